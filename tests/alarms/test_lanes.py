"""Lanes keep hosts apart; the settler writes down together what ended meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

import pytest

from tackwatch.alarms import settler
from tackwatch.alarms.lanes import Lanes, Width
from tackwatch.alarms.settler import Settler
from tackwatch.store.alarms import AlarmRow
from tackwatch.work.ring import Settled
from tests.alarms.yard import NOON

NARROW = Width(most=2, waiting=3)


class Gate:
    """Tasks that wait at a gate; ``begun`` and ``done`` are their names."""

    def __init__(self) -> None:
        self.begun: list[str] = []
        self.done: list[str] = []
        self.opened = threading.Event()

    def task(self, name: str) -> Callable[[], None]:
        def run() -> None:
            self.begun.append(name)
            self.opened.wait(30)
            self.done.append(name)

        return run


@pytest.fixture
def gate() -> Iterator[Gate]:
    gate = Gate()
    yield gate
    gate.opened.set()


def _wait_until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.01)


def test_a_lane_runs_so_many_lets_so_many_wait_and_takes_no_more(gate: Gate) -> None:
    lanes = Lanes()
    taken = [lanes.put("a", NARROW, gate.task(str(n))) for n in range(7)]
    assert taken == [True] * 5 + [False] * 2
    _wait_until(lambda: len(gate.begun) == 2)
    gate.opened.set()
    lanes.wait_until_empty()
    assert sorted(gate.done) == ["0", "1", "2", "3", "4"]
    assert lanes.put("a", NARROW, gate.task("again")), "there is room again"
    lanes.wait_until_empty()


def test_a_lane_that_stands_still_holds_up_no_other(gate: Gate) -> None:
    lanes = Lanes()
    for number in range(5):
        lanes.put("dead", NARROW, gate.task(f"dead{number}"))
    done = threading.Event()
    lanes.put("well", NARROW, done.set)
    assert done.wait(20)
    assert gate.done == []


def test_however_many_hosts_there_are_threads_are_bounded_and_each_gets_one(gate: Gate) -> None:
    lanes = Lanes(most_threads=4)
    before = threading.active_count()
    for host in "abcdef":
        for number in range(2):
            lanes.put(host, NARROW, gate.task(f"{host}{number}"))
    _wait_until(lambda: {name[0] for name in gate.begun} == set("abcdef"))
    assert threading.active_count() - before <= 4 + 6
    gate.opened.set()
    lanes.wait_until_empty()
    assert len(gate.done) == 12


def test_a_task_that_fails_takes_no_other_along() -> None:
    lanes, done = Lanes(), threading.Event()
    lanes.put("a", Width(1, 9), lambda: [][1])
    lanes.put("a", Width(1, 9), done.set)
    assert done.wait(20)
    lanes.wait_until_empty()


def _settled(number: int, lease_until: datetime) -> Settled:
    row = AlarmRow(
        number, "r", "m", f"a{number}.gel", "gel", "a", NOON, NOON, {}, "claimed", "me", lease_until,
        1, None, None, {},
    )  # fmt: skip
    return Settled(row, "told", {})


class Book:
    """Writes settlings down, or fails as it is told."""

    def __init__(self) -> None:
        self.batches: list[list[int]] = []
        self.done = 0
        self.fails: Callable[[list[int]], bool] = lambda _: False
        self.hold: threading.Event | None = None

    def write(self, ended: Sequence[Settled]) -> None:
        ids = [one.alarm.id for one in ended]
        if self.hold is not None:
            self.hold.wait(20)
        if self.fails(ids):
            raise OSError("the database is away")
        self.batches.append(ids)

    def count(self, count: int) -> None:
        self.done += count


def _later() -> datetime:
    return datetime.now(UTC) + timedelta(seconds=60)


def test_what_ended_meanwhile_is_written_in_one_transaction() -> None:
    book = Book()
    book.hold = threading.Event()
    one = Settler(book.write, lambda: datetime.now(UTC), book.count)
    one.put(_settled(0, _later()))
    _wait_until(lambda: not one._ended)  # it is being written
    for number in range(1, 40):
        one.put(_settled(number, _later()))
    book.hold.set()
    one.finish()
    assert book.batches == [[0], list(range(1, 40))]
    assert book.done == 40


def test_what_cannot_be_written_is_tried_again_alone_while_its_lease_lasts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(settler, "AGAIN_S", 0.01)
    book, tries = Book(), [0]

    def fails(ids: list[int]) -> bool:
        tries[0] += ids == [1]
        return (1 in ids and tries[0] < 3) or 2 in ids

    book.fails = fails
    soon = datetime.now(UTC) + timedelta(seconds=0.5)
    one = Settler(book.write, lambda: datetime.now(UTC), book.count)
    one.put(*(_settled(0, _later()), _settled(1, _later()), _settled(2, soon)))
    one.finish()
    assert book.batches == [[0], [1]], "the third is left to its lease"
    assert book.done == 3, "and there is room for others"


def test_nothing_that_waits_is_lost_when_the_settler_ends() -> None:
    book = Book()
    one = Settler(book.write, lambda: datetime.now(UTC), book.count)
    one.put(*(_settled(number, _later()) for number in range(settler.MOST_AT_ONCE + 7)))
    one.finish()
    assert sum(map(len, book.batches)) == settler.MOST_AT_ONCE + 7
