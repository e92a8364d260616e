"""Alarm processes that are killed with SIGKILL, at every point of the way and at random: nothing is lost or doubled."""

from __future__ import annotations

import random
import signal
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tackwatch.settings import Settings
from tackwatch.store import signs
from tackwatch.store.db import db
from tests.alarms.yard import Yard, wanted
from tests.support.alarm_forks import POINTS, counter, ended, start
from tests.support.push_receiver import PushReceiver

LEASE_S, ANSWER_S = 4.0, 1.5
SENT = {"after it was sent", "while it is settled", "before the settling is committed"}


@pytest.fixture
def running() -> Iterator[list[Any]]:
    """Alarm processes; what still runs at the end is killed."""
    with ended([]) as found:
        yield found


def _in(seconds: float) -> datetime:
    return datetime.now(UTC) + timedelta(seconds=seconds)


def _wait_until(holds: Callable[[], bool], timeout_s: float = 60) -> None:
    end = time.monotonic() + timeout_s
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


@pytest.mark.parametrize("point", POINTS)
def test_killed_at_any_point_the_alarm_is_shown_once_and_not_lost(
    yard: Yard, receiver: PushReceiver, settings: Settings, running: list[Any], point: str
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    yard.keep(wanted(member, _in(-1)), now=datetime.now(UTC))
    first = start(settings, LEASE_S, ANSWER_S, kill_at=point)
    running.append(first)
    first.join(60)
    assert first.exitcode == -signal.SIGKILL
    found = yard.one()
    came = len(receiver.pushes)
    assert found.state == {
        "before the claim is committed": "due", "after the settling": "told",
    }.get(point, "claimed")  # fmt: skip
    assert came == (point in SENT or point == "after the settling")
    running.append(start(settings, LEASE_S, ANSWER_S))
    _wait_until(lambda: yard.one().state == "told")
    assert len(receiver.pushes) == came + (point != "after the settling")
    assert list(receiver.shown()["a"]) == [found.alarm_id]
    assert len({push.headers["Topic"] for push in receiver.pushes}) == 1
    assert yard.one().told_at is not None


def test_who_comes_up_takes_over_from_the_dead_at_once_and_from_nobody_who_lives(
    yard: Yard, receiver: PushReceiver, settings: Settings, running: list[Any]
) -> None:
    lease_s = 600.0  # a lease does not end within this test
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    yard.keep(wanted(member, _in(-1)), now=datetime.now(UTC))
    first = start(settings, lease_s, ANSWER_S, kill_at="after the claim")
    running.append(first)
    first.join(60)
    assert yard.one().state == "claimed"
    holder = signs.Sign(db.engine, str(yard.one().claimed_by))  # as if it lived
    rounds = counter()
    running.append(start(settings, lease_s, ANSWER_S, rounds=rounds))
    _wait_until(lambda: rounds.value > 0)
    assert (yard.one().state, receiver.pushes) == ("claimed", [])
    holder.take_down()
    running.append(start(settings, lease_s, ANSWER_S))
    _wait_until(lambda: yard.one().state == "told")
    assert list(receiver.shown()["a"]) == [yard.one().alarm_id]


def test_processes_that_are_killed_at_random_lose_and_double_nothing(
    yard: Yard, receiver: PushReceiver, settings: Settings, running: list[Any]
) -> None:
    chance = random.Random(11)  # which one is killed, and when
    phones = {}
    for number in range(4):
        member = yard.member(devices=0)
        yard.device(member, receiver.subscribe(f"phone{number}"))
        phones[f"phone{number}"] = member
    many = [
        wanted(member, _in(0.5 + one / 10), alarm=f"coat{one}")
        for one in range(60)
        for member in phones.values()
    ]
    yard.keep(*many, now=datetime.now(UTC))
    running.extend(start(settings, LEASE_S, ANSWER_S) for _ in range(3))
    for _ in range(12):
        time.sleep(chance.uniform(0.1, 0.6))
        victim = running[chance.randrange(len(running))]
        victim.kill()
        running.remove(victim)
        running.append(start(settings, LEASE_S, ANSWER_S))
    _wait_until(lambda: {alarm.state for alarm in yard.alarms()} == {"told"}, 90)
    shown = receiver.shown()
    assert {name: len(alarms) for name, alarms in shown.items()} == dict.fromkeys(phones, 60)
