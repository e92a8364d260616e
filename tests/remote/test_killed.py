"""A device that is killed between any two of its writes loses nothing and doubles nothing.

The run is done again and again in a process of its own; each time that process kills itself at one statement later than
before (SIGKILL, so nothing is tidied up), and another one opens the same file and goes on.
"""

from __future__ import annotations

import os
import signal
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tackwatch.remote import file as file_module
from tackwatch.remote.copy import Copy
from tackwatch.remote.exchange import exchange
from tackwatch.remote.follow import follow_once
from tackwatch.remote.join import join
from tackwatch.remote.news import Named, News
from tackwatch.remote.readings import log_reading
from tests.remote.conftest import now_ms
from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire


class Deadly(sqlite3.Connection):
    """A connection whose process dies at a statement."""

    left = -1

    def execute(self, *given: object) -> sqlite3.Cursor:
        _die_if_due()
        return super().execute(*given)  # type: ignore[arg-type]

    def executemany(self, *given: object) -> sqlite3.Cursor:
        _die_if_due()
        return super().executemany(*given)  # type: ignore[arg-type]


def _die_if_due() -> None:
    if Deadly.left == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    Deadly.left -= 1


def in_a_process_that_dies_at(statement: int, work: Callable[[], None]) -> bool:
    """Do the work in a child; true when it came to its end before its death was due."""
    child = os.fork()
    if child == 0:
        Deadly.left = statement
        try:
            work()
            os._exit(0)
        except BaseException:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert status in (0, signal.SIGKILL), status
    return status == 0


@pytest.fixture
def server(sqlite_template: Path, tmp_path: Path) -> Iterator[Server]:
    with Server(tmp_path, "", "--workers", "1", "--threads", "4", "--no-alarms") as running:
        yield running


@pytest.mark.timeout(600)
def test_a_device_killed_at_any_statement_loses_and_doubles_nothing(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wire = HttpWire(server.address)
    owner = Phone.found(wire, now_ms)
    path, heard = tmp_path / "device", tmp_path / "heard"
    join(f"{server.address}/#/join/{owner.invite()}", "sensor", path, now_ms).close()
    first = Copy.open(path, now_ms)
    follow_once(first, lambda *_: None)
    first.close()
    wire.close()  # no connection is shared with the children
    monkeypatch.setattr(file_module, "Connection", Deadly)

    def tell(news: News, _: Named) -> None:
        with heard.open("a") as out:
            out.write(f"{news.after['id']}\n")

    def story() -> None:
        copy = Copy.open(path, now_ms)
        log_reading(copy, {"air_c": 11})
        exchange(copy)
        log_reading(copy, {"air_c": 12})
        follow_once(copy, tell)
        copy.close()

    written, told, deaths = 0, set(), 0
    for statement in range(1, 400):
        told.add(owner.create("zone", {"name": f"Zone {statement}"}))
        owner.sync()
        survived = in_a_process_that_dies_at(statement, story)
        copy = Copy.open(path, now_ms)
        filed = [*copy.operations("acknowledged"), *copy.operations("waiting")]
        assert sorted(one.n for one in filed) == [*range(1, len(filed) + 1)], f"{statement=}"
        assert written <= len(filed) <= written + 2
        log_reading(copy, {"air_c": 13})  # before anything is heard of the server
        written = len(filed) + 1
        follow_once(copy, tell)
        assert copy.operations("waiting") == []
        copy.close()
        if survived:
            break
        deaths += 1
    assert survived
    assert deaths > 60, "so many statements were tried"
    last = Copy.open(path, now_ms)
    owner.sync()
    readings = [one.id for one in owner.state.records.values() if one.kind == "reading"]
    acts = [one.actions[0]["id"] for one in last.operations("acknowledged")]
    assert sorted(readings) == sorted(acts), "what was on the disk is on the server, once"
    assert {row.id for row in last.rows("zone")} == told
    assert set(heard.read_text().split()) >= told, "each change was told at least once"
    last.close()
    wire.close()
