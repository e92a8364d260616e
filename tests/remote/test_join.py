"""A device comes aboard by a link: one file that only its owner may read, and that nothing writes over."""

from __future__ import annotations

import sqlite3
import stat
from pathlib import Path

import pytest

from tackwatch.remote.copy import Copy
from tackwatch.remote.errors import (
    InputError,
    StoreError,
)
from tackwatch.remote.join import join
from tackwatch.remote.wire import ProblemError
from tests.remote.conftest import Aboard
from tests.remote.rows import zones
from tests.support.door import Door
from tests.support.phone import Phone
from tests.support.world import StandingClock


def test_who_joins_has_the_refit_in_a_file_that_only_they_may_read(
    aboard: Aboard, owner: Phone
) -> None:
    owner.create("zone", {"name": "Keel"})
    owner.sync()
    copy = aboard()
    assert zones(copy) == ["Keel"]
    assert stat.S_IMODE(copy.file.path.stat().st_mode) == 0o600


def test_a_link_that_does_not_work_leaves_no_file_and_a_file_is_never_written_over(
    door: Door, owner: Phone, clock: StandingClock, tmp_path: Path
) -> None:
    link, path = f"{door.address}/#/join/{'A' * 43}", tmp_path / "device"
    with pytest.raises(ProblemError, match="not known here"):
        join(link, "sensor", path, lambda: clock.ms)
    assert not path.exists()
    path.write_text("dear diary")
    good = f"{door.address}/#/join/{owner.invite()}"
    with pytest.raises(StoreError, match="there already"):
        join(good, "sensor", path, lambda: clock.ms)
    assert path.read_text() == "dear diary"
    join(good, "sensor", tmp_path / "other", lambda: clock.ms).close()  # the link was not used up


@pytest.mark.parametrize("link", ["", "https://boat.example/", "ftp://b/#/join/x", "x#/join/y"])
def test_what_is_no_link_is_refused_before_anything_is_made(link: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        join(link, "sensor", tmp_path / "device", lambda: 0)
    assert refused.value.field == "link"
    assert not (tmp_path / "device").exists()


def test_a_file_of_somebody_else_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "other"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE meta (name)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="not made by"):
        Copy.open(path, lambda: 0)
    path.write_text("no database at all, but long enough to look at" * 100)
    with pytest.raises(StoreError, match="cannot be used"):
        Copy.open(path, lambda: 0)
    assert before
    with pytest.raises(StoreError, match="There is no file"):
        Copy.open(tmp_path / "nothing", lambda: 0)
