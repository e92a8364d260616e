"""A backup that is older than the devices: restored as the operator does it, on a real server and either database."""

from __future__ import annotations

from pathlib import Path

from tackwatch.remote.exchange import exchange
from tackwatch.remote.join import join
from tackwatch.remote.readings import log_reading
from tests.deploy.test_backup import Yard, owner, yard  # noqa: F401 - the fixtures of the same yard
from tests.remote.conftest import now_ms
from tests.support.phone import Phone


def test_after_a_restore_every_device_hands_over_again_what_the_server_lost(
    yard: Yard,  # noqa: F811
    owner: Phone,  # noqa: F811
    tmp_path: Path,
) -> None:
    sensor = join(
        f"{yard.server.address}/#/join/{owner.invite()}", "sensor", tmp_path / "sensor", now_ms
    )
    for air_c in (1, 2):
        log_reading(sensor, {"air_c": air_c})
    exchange(sensor)
    copy = yard.backup()
    for air_c in (3, 4):
        log_reading(sensor, {"air_c": air_c})
    exchange(sensor)
    epoch = sensor.meta().epoch
    assert sensor.operations("waiting") == []
    yard.server.stop()
    log_reading(sensor, {"air_c": 5})
    status, text = yard.run("restore.sh", copy)
    assert status == 0, text
    yard.server.start()

    exchange(sensor)
    assert sensor.meta().epoch != epoch
    assert sensor.operations("waiting") == []
    owner.sync()
    found = [one for one in owner.state.records.values() if one.kind == "reading"]
    assert sorted(one.body["air_c"] for one in found) == [1, 2, 3, 4, 5]
    assert {row.id for row in sensor.rows("reading")} == {one.id for one in found}
    assert [row.fields["name"] for row in sensor.rows("zone")] == ["Keel"]
    sensor.close()
