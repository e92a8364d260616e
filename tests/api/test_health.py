"""How the server is: for everybody, for an owner, for those who watch over it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from prometheus_client.openmetrics.parser import text_string_to_metric_families as open_metrics
from prometheus_client.parser import text_string_to_metric_families as plain_metrics

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import health as store
from tackwatch.store.db import db, writing
from tackwatch.store.health import Count
from tackwatch.work.health_bell import GRACE, PROMISE, Heart
from tackwatch.work.keep_alarms import keep
from tests.alarms.yard import wanted
from tests.support.phone import Phone
from tests.support.wires import Answer, ClientWire, call
from tests.support.world import BEGAN_AT, StandingClock, ports_with

TOKEN = "a-long-word-for-the-figures"


@pytest.fixture
def settings(settings: Settings) -> Settings:
    return replace(settings, metrics_token=TOKEN)


@pytest.fixture
def heart(app: Flask, clock: StandingClock) -> Iterator[Heart]:
    """An alarm process, as far as it says that it lives."""
    with app.app_context():
        yield Heart("yard-machine.4711.abcdefghjkmn", clock.now)


def health(wire: ClientWire) -> dict[str, Any]:
    answer = call(wire, "GET", "/api/health")
    assert answer.status == 200
    return dict(answer.json)


def metrics(wire: ClientWire, token: str | None = TOKEN, **headers: str) -> Answer:
    given = {"Authorization": f"Bearer {token}"} if token is not None else {}
    return call(wire, "GET", "/metrics", headers={**given, **headers})


def figures(wire: ClientWire) -> dict[tuple[str, ...], float]:
    """Give each figure by its name and labels."""
    answer = metrics(wire)
    assert answer.status == 200
    found = plain_metrics(answer.content.decode())
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in found
        for sample in family.samples
    }


def due(app: Flask, phone: Phone, minutes: float, count: int = 1) -> None:
    """Let a person's alarms be due so long from the beginning on."""
    many = [
        wanted(phone.member_id, BEGAN_AT + timedelta(minutes=minutes), alarm=f"coat{one}")
        for one in range(count)
    ]
    with app.app_context(), writing():
        keep(phone.refit_id, many, {}, BEGAN_AT)


def test_a_server_on_which_nobody_rings_is_not_ok(wire: ClientWire) -> None:
    found = health(wire)
    assert (found["status"], found["ok"], found["bells"]) == ("nobody-rings", False, [])


def test_who_rings_is_named_by_a_word_that_tells_nothing_of_the_machine(
    wire: ClientWire, heart: Heart, clock: StandingClock
) -> None:
    heart.beat()
    found = health(wire)
    assert (found["status"], found["ok"]) == ("ok", True)
    (bell,) = found["bells"]
    assert (bell["name"], bell["alive"]) == ("abcdefghjkmn", True)
    assert bell["next_beat_by"] > bell["beat_at"] == BEGAN_AT.isoformat()
    assert "yard-machine" not in str(found)


def test_who_breaks_its_promise_rings_no_more(
    wire: ClientWire, heart: Heart, clock: StandingClock
) -> None:
    heart.beat()
    clock.forward(seconds=PROMISE.total_seconds())
    assert health(wire)["ok"] is True
    clock.forward(seconds=1)
    assert health(wire)["status"] == "nobody-rings"
    heart.beat()
    assert health(wire)["ok"] is True


def test_who_ended_as_asked_rings_no_more_at_once(wire: ClientWire, heart: Heart) -> None:
    heart.beat()
    heart.end()
    assert health(wire)["status"] == "nobody-rings"


def test_a_promise_holds_for_longer_than_a_process_sleeps() -> None:
    assert timedelta(minutes=5, seconds=30) < PROMISE


def test_what_is_due_and_untaken_shows_without_a_word_about_any_refit(
    app: Flask, wire: ClientWire, owner: Phone, heart: Heart, clock: StandingClock
) -> None:
    due(app, owner, minutes=1, count=3)
    heart.beat()
    assert health(wire)["waiting"] == {
        "to_come": 3, "due": 0, "overdue": 0, "claimed": 0, "retrying": 0,
    }  # fmt: skip
    clock.forward(minutes=2)
    found = health(wire)
    assert (found["status"], found["waiting"]["due"], found["waiting"]["overdue"]) == ("ok", 3, 0)
    clock.forward(minutes=1)
    found = health(wire)
    assert (found["status"], found["waiting"]["overdue"]) == ("overdue", 3)
    text = str(found)
    assert owner.refit_id not in text
    assert "Port hull" not in text


def test_a_database_that_does_not_answer_is_told_by_503(tmp_path: Path) -> None:
    folder = tmp_path / "away"
    app = create_app(Settings(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}"))
    with app.app_context():
        db.session.remove()
        db.engine.dispose()
    shutil.rmtree(folder)
    answer = call(ClientWire(app.test_client()), "GET", "/api/health")
    assert answer.status == 503
    assert answer.headers["content-type"] == "application/problem+json"
    app.extensions["tackwatch"].hub.stop()


def test_a_schema_that_is_behind_is_not_ok(app: Flask, wire: ClientWire) -> None:
    with app.app_context(), db.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0004'")
    try:
        found = health(wire)
        assert (found["status"], found["ok"], found["waiting"]) == ("schema-behind", False, None)
    finally:
        with app.app_context(), db.engine.begin() as connection:
            connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{_newest(app)}'")


def _newest(app: Flask) -> str:
    from tackwatch.store import schema

    return schema.newest()


def counted(app: Flask, refit_id: str, *counts: Count, day: str = "2026-03-02") -> None:
    with app.app_context(), writing():
        store.add(refit_id, day, counts)


def test_an_owner_sees_how_the_refits_alarms_were_rung(
    app: Flask, wire: ClientWire, owner: Phone, heart: Heart
) -> None:
    counted(
        app,
        owner.refit_id,
        Count("push", "sent", "5", 3, 9_000),
        Count("push", "sent", "60", 1, 31_000),
        Count("push", "failed", "", 2, 0),
        Count("mail", "refused", "", 1, 0),
        Count("alarm", "told", "", 4, 0),
        Count("alarm", "missed", "", 1, 0),
    )
    counted(app, owner.refit_id, Count("push", "sent", "1", 9, 90), day="2026-02-01")
    counted(app, "another-refit", Count("push", "sent", "1", 7, 70))
    heart.beat()
    found = owner.call("GET", "/health").json
    assert (found["rings"], found["told"], found["missed"]) == (True, 4, 1)
    by_channel = {one.pop("channel"): one for one in found["channels"]}
    assert set(by_channel) == {"page", "push", "webhook", "mail"}
    push = by_channel["push"]
    assert (push["sent"], push["failed"], push["late_mean_s"]) == (4, 2, 10.0)
    assert [push["late_up_to"][bound] for bound in ("1", "5", "60", "+Inf")] == [0, 3, 4, 4]
    assert by_channel["mail"]["refused"] == 1
    assert by_channel["mail"]["late_mean_s"] is None


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_how_the_alarms_were_rung_is_for_owners(owner: Phone, role: str) -> None:
    assert owner.crew(role).call("GET", "/health").status == 403


def test_the_figures_need_their_token(wire: ClientWire) -> None:
    assert metrics(wire).status == 200
    for wrong in (None, "", TOKEN[:-1], TOKEN + "x", "ñ"):
        answer = metrics(wire, wrong)
        assert answer.status == 401, wrong
        assert answer.headers["content-type"] == "application/problem+json"
    assert call(wire, "GET", "/metrics", headers={"Authorization": TOKEN}).status == 401


def test_where_no_token_is_set_there_are_no_figures(
    settings: Settings, clock: StandingClock
) -> None:
    app = create_app(replace(settings, metrics_token=""), ports_with(clock))
    wire = ClientWire(app.test_client())
    for token in (None, "", TOKEN):
        assert metrics(wire, token).status == 404
    app.extensions["tackwatch"].hub.stop()
    with app.app_context():
        db.session.remove()
        db.engine.dispose()


def test_the_figures_count_what_was_sent_and_how_late(
    app: Flask, wire: ClientWire, owner: Phone, heart: Heart
) -> None:
    heart.beat()
    due(app, owner, minutes=5, count=2)
    counted(app, owner.refit_id, Count("push", "sent", "5", 3, 9_000))
    counted(app, "b", Count("push", "sent", "5", 1, 3_000), Count("push", "dropped", "", 1, 0))
    counted(app, "b", Count("alarm", "missed", "", 6, 0))
    found = figures(wire)
    assert found["tackwatch_alarm_processes",] == 1
    assert found["tackwatch_alarms_waiting", "to_come"] == 2
    assert found["tackwatch_alarms_total", "missed"] == 6
    assert found["tackwatch_tries_total", "push", "sent"] == 4
    assert found["tackwatch_tries_total", "push", "dropped"] == 1
    assert found["tackwatch_tries_total", "mail", "failed"] == 0
    assert found["tackwatch_late_seconds_count", "push"] == 4
    assert found["tackwatch_late_seconds_sum", "push"] == 12
    buckets = {
        name[-1]: value
        for name, value in found.items()
        if name[0].endswith("_bucket") and name[1] == "push"
    }
    assert (buckets["1.0"], buckets["5.0"], buckets["+Inf"]) == (0, 4, 4)


def test_the_figures_name_no_refit_and_no_person(
    app: Flask, wire: ClientWire, owner: Phone, heart: Heart
) -> None:
    heart.beat()
    counted(app, owner.refit_id, Count("push", "sent", "5", 3, 9_000))
    said = metrics(wire).content.decode()
    assert "tackwatch_tries" in said
    for secret in (owner.refit_id, owner.member_id, owner.device_id, TOKEN, "Wanderer"):
        assert secret not in said


def test_openmetrics_is_given_to_who_asks_for_it_openmetrics_1_0(
    app: Flask, wire: ClientWire, owner: Phone
) -> None:
    """Source: OpenMetrics 1.0 as the parser of the package prometheus-client reads it."""
    counted(app, owner.refit_id, Count("push", "sent", "5", 3, 9_000))
    answer = metrics(wire, Accept="application/openmetrics-text; version=1.0.0")
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    text = answer.content.decode()
    assert text.endswith("# EOF\n")
    families = {family.name: family for family in open_metrics(text)}
    assert families["tackwatch_late_seconds"].type == "histogram"
    assert families["tackwatch_tries"].type == "counter"


def test_folding_counts_changes_no_sum(app: Flask, wire: ClientWire, owner: Phone) -> None:
    for day in ("2026-01-01", "2026-01-02", "2026-03-01", "2026-03-02"):
        for refit_id in (owner.refit_id, "b"):
            counted(app, refit_id, Count("push", "sent", "5", 2, 400), day=day)
            counted(app, refit_id, Count("push", "sent", "5", 1, 100), day=day)
            counted(app, refit_id, Count("mail", "failed", "", 1, 0), day=day)
    before, mine = figures(wire), owner.call("GET", "/health").json["channels"]
    with app.app_context(), writing():
        store.fold("2026-02-01")
    assert figures(wire) == before
    assert owner.call("GET", "/health").json["channels"] == mine
    with app.app_context():
        assert store.rows_counted() == 2 + 2 * 2 * 2, (
            "one of each sort, and the rest by refit and day"
        )


SILENT = "tackwatch-bell"


def test_an_exchange_says_that_nobody_rings_and_nothing_while_somebody_does(
    owner: Phone, heart: Heart, clock: StandingClock
) -> None:
    heart.beat()
    assert SILENT not in owner.exchange().headers
    clock.forward(seconds=(PROMISE + GRACE).total_seconds() + 1)
    assert owner.exchange().headers[SILENT] == "silent"
    assert quiet(owner).headers[SILENT] == "silent"
    clock.forward(seconds=11)
    heart.beat()
    clock.forward(seconds=11)
    assert SILENT not in owner.exchange().headers
    assert SILENT not in quiet(owner).headers


def quiet(phone: Phone) -> Answer:
    """Ask for news with nothing to hand over."""
    phone.sync()
    answer = phone.call("GET", f"/sync?epoch={phone.epoch}&cursor={phone.cursor}")
    assert answer.status == 204
    return answer


def test_a_restart_of_half_a_minute_is_not_told_to_phones(
    owner: Phone, heart: Heart, clock: StandingClock
) -> None:
    heart.beat()
    heart.end()
    assert SILENT not in owner.exchange().headers
    clock.forward(seconds=25)
    assert SILENT not in owner.exchange().headers
    clock.forward(seconds=11)
    assert owner.exchange().headers[SILENT] == "silent"


def test_where_nobody_ever_rang_phones_hear_it_after_a_while(
    owner: Phone, clock: StandingClock
) -> None:
    assert SILENT not in owner.exchange().headers
    clock.forward(seconds=41)
    assert owner.exchange().headers[SILENT] == "silent"


def test_the_log_says_once_that_nobody_rings(
    owner: Phone, clock: StandingClock, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(9):
        clock.forward(seconds=20)
        owner.exchange()
    said = re.findall("nobody rings the alarms", capsys.readouterr().out)
    assert len(said) == 1
