"""Calls: whoever writes an alarm that is due wakes those who listen, and nobody else does."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask

from tackwatch.store import calls
from tackwatch.store.calls import Ear
from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm, Refit
from tackwatch.work import ring
from tackwatch.work.ring import Settled
from tests.alarms.yard import NOON, Yard, minutes, wanted

LEASE = timedelta(seconds=45)
NOW = datetime.fromtimestamp(0, UTC)


class Listening:
    """An ear in a thread of its own."""

    def __init__(self) -> None:
        self.ear = Ear(db.engine)
        self._heard: queue.Queue[datetime] = queue.Queue()
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        with self.ear:
            for at in self.ear.calls():
                self._heard.put(at)

    def next(self) -> datetime:
        return self._heard.get(timeout=10)

    def nothing(self) -> bool:
        """Say whether nothing was called before a call that comes now."""
        end = NOON + timedelta(days=999)
        _call(end)
        return self.next() == end

    def end(self) -> None:
        self.ear.close()
        self._thread.join(10)
        assert not self._thread.is_alive()


def _call(at: datetime) -> None:
    with writing():
        db.session.info[calls._NOTE] = round(at.timestamp() * 1000)
        db.session.execute(db.select(Refit.id))


@pytest.fixture
def listening(yard: Yard) -> Iterator[Listening]:
    one = Listening()
    yield one
    one.end()


def test_a_due_alarm_calls_with_the_earliest_instant(yard: Yard, listening: Listening) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON + minutes(9), alarm="a"), wanted(member, NOON, alarm="b"))
    assert listening.next() == NOON
    yard.keep(wanted(member, NOON + minutes(9), alarm="a"), wanted(member, NOON + minutes(3), "b"))
    assert listening.next() == NOON + minutes(3)


def test_every_listener_hears(yard: Yard, listening: Listening) -> None:
    other = Listening()
    yard.keep(wanted(yard.member(), NOON))
    heard = [listening.next(), other.next()]
    other.end()
    assert heard == [NOON, NOON]


def test_what_is_rolled_back_calls_nobody(yard: Yard, listening: Listening) -> None:
    member = yard.member()

    def fail() -> None:
        with writing():
            ring.rows.add([{**_values(yard, member), "state": "due"}])
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert listening.nothing()


def test_what_is_not_due_calls_nobody(yard: Yard, listening: Listening) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON - minutes(90)))  # of no use any more: missed
    assert yard.one().state == "missed"
    assert listening.nothing()


def test_what_bells_write_calls_nobody(yard: Yard, listening: Listening) -> None:
    yard.keep(wanted(yard.member(), NOON))
    assert listening.next() == NOON
    ringing, _ = ring.look_up(ring.claim("a", NOON, LEASE, 9))
    ring.show(ringing, NOON)
    ring.settle([Settled(one.alarm, "claimed", {}, NOON + minutes(1)) for one in ringing])
    ringing, _ = ring.look_up(ring.claim("a", NOON + minutes(1), LEASE, 9))
    ring.settle([Settled(one.alarm, "told", {}) for one in ringing])
    assert yard.one().state == "told"
    assert listening.nothing()


def test_what_a_bell_gives_back_calls_the_others(yard: Yard, listening: Listening) -> None:
    yard.keep(wanted(yard.member(), NOON))
    assert listening.next() == NOON
    ringing, _ = ring.look_up(ring.claim("a", NOON, LEASE, 9))
    ring.settle([Settled(one.alarm, "claimed", {}, NOON) for one in ringing], aloud=True)
    assert listening.next() <= NOON


def test_a_writer_that_says_nothing_of_the_instant_calls_for_now(
    yard: Yard, listening: Listening
) -> None:
    """Whatever way a row is written, its writer needs not know of calls."""
    yard.keep(wanted(yard.member(), NOON))
    assert listening.next() == NOON
    yard.change(params={})
    assert listening.next() == NOW
    with writing():
        db.session.execute(db.update(Alarm).where(Alarm.state == "due").values(kind="gel"))
    assert listening.next() == NOW


def test_a_savepoint_calls_with_its_transaction_and_not_before(
    yard: Yard, listening: Listening
) -> None:
    member = yard.member()
    with writing():
        with db.session.begin_nested():
            ring.rows.add([{**_values(yard, member), "state": "due"}])
        assert listening._heard.empty()
    assert listening.next() == NOON


def test_a_pipe_whose_reader_is_dead_is_taken_away_and_a_full_one_holds_up_nobody(
    yard: Yard, app: Flask
) -> None:
    if db.engine.dialect.name == "postgresql":
        folder = Path(str(app.extensions["tackwatch"].settings.data_dir)) / "no-pipes-here"
    else:
        folder = calls.folder_of(db.engine)
    folder.mkdir(exist_ok=True)
    dead, full = folder / "1-dead.call", folder / "2-full.call"
    for pipe in (dead, full):
        os.mkfifo(pipe)
    reading = os.open(full, os.O_RDWR | os.O_NONBLOCK)
    try:
        for _ in range(20_000):
            calls._write_to_pipes(folder, 1)
        assert not dead.exists()
        assert full.exists()
        assert len(os.read(reading, 1 << 20)) % 8 == 0, "no call is cut"
    finally:
        os.close(reading)


def _values(yard: Yard, member: str) -> dict[str, object]:
    return {
        "refit_id": yard.refit_id, "member_id": member, "alarm_id": "a.gel", "kind": "gel",
        "source_id": "a", "due_at": NOON, "useless_after": NOON + minutes(9), "params": {},
        "seen_at": None, "attempts": 0, "outcome": {},
    }  # fmt: skip
