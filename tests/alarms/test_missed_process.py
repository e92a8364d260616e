"""The server down across due instants, with real alarm processes: what is of use is sent, the rest is told of once."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask

from tackwatch.settings import Settings
from tackwatch.store import health, heartbeats, refits
from tackwatch.store.db import db, writing
from tackwatch.work import missed
from tackwatch.work.health_bell import bells
from tackwatch.work.keep_alarms import keep
from tests.alarms.test_process import Processes, _quick, _wait_until
from tests.alarms.yard import Yard, wanted
from tests.support.push_receiver import PushReceiver

KINDS = ("pot_life_over", "recoat_closing", "step_due", "weather_edge")


@pytest.fixture
def processes(settings: Settings) -> Iterator[Processes]:
    """Alarm processes; what still runs at the end is killed."""
    found = Processes(settings)
    yield found
    found.end()


def crew_of(yard: Yard, receiver: PushReceiver, count: int) -> dict[str, str]:
    """Give members, each with a phone of its name, by name."""
    members = {f"phone{number}": yard.member(devices=0) for number in range(count)}
    for name, member in members.items():
        yard.device(member, receiver.subscribe(name))
    return members


def want_many(
    yard: Yard, members: list[str], due_at: datetime, useful: timedelta, name: str
) -> None:
    for number, kind in enumerate(KINDS):
        yard.wanted_so_far += [
            wanted(
                member, due_at, alarm=f"{name}{number}", kind=kind, useless_after=due_at + useful
            )
            for member in members
        ]
    with writing():
        refits.lock(yard.refit_id)  # as every sync does: processes run meanwhile
        keep(yard.refit_id, yard.wanted_so_far, {}, datetime.now(UTC))


def all_states(yard: Yard) -> set[str]:
    """Give in which states alarms are; several persons have those with one id."""
    return {alarm.state for alarm in yard.alarms()}


@pytest.mark.parametrize("count", [1, 3])
def test_after_an_outage_each_person_has_one_notice_and_what_is_still_of_use(
    yard: Yard, receiver: PushReceiver, processes: Processes, count: int
) -> None:
    members = crew_of(yard, receiver, 3)
    yard.wanted_so_far = []
    first = processes.start(*_quick(lease_s=12, answer_s=5))
    want_many(yard, [*members.values()], datetime.now(UTC), timedelta(hours=1), "before")
    receiver.wait_for(len(KINDS) * 3)
    _wait_until(lambda: all_states(yard) == {"told"})
    first.terminate()
    assert first.wait(20) == 0

    due_at = datetime.now(UTC)
    want_many(yard, [*members.values()], due_at, timedelta(milliseconds=500), "over")
    want_many(yard, [*members.values()], due_at, timedelta(hours=1), "useful")
    time.sleep(1.5)  # nobody rings: they pass

    processes.start(*_quick(lease_s=12, answer_s=5), count=count)
    _wait_until(lambda: {one.state for one in yard.notices()} == {"told"})
    _wait_until(lambda: not {"due", "claimed"} & all_states(yard))
    time.sleep(0.5)  # whoever would tell it twice has done so by then
    assert Counter(one.member_id for one in yard.notices()) == dict.fromkeys(members.values(), 1)
    for one in yard.notices():
        assert one.params["missed_n"] == len(KINDS)
        assert {entry["kind"] for entry in one.params["missed"]} == set(KINDS)
    states = Counter(
        (alarm.alarm_id.partition(".")[0].rstrip("0123"), alarm.state) for alarm in yard.alarms()
    )
    each = len(KINDS) * 3
    assert states == {("before", "told"): each, ("useful", "told"): each, ("over", "missed"): each}
    sent = Counter((push.name, push.payload["kind"]) for push in receiver.pushes)
    for name in members:
        assert sent[name, missed.KIND] == 1
        assert all(sent[name, kind] == 2 for kind in KINDS), "before the outage, and after it"


def test_processes_that_are_killed_while_they_come_up_lose_and_double_no_notice(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    members = crew_of(yard, receiver, 2)
    yard.wanted_so_far = []
    due_at = datetime.now(UTC)
    for name in ("a", "b", "c", "d"):
        want_many(yard, [*members.values()], due_at, timedelta(milliseconds=100), name)
    time.sleep(0.5)
    for wait_s in (0.9, 1.2, 1.5, 1.8):  # about when it looks for the first time
        process, _ = processes._begin(tuple(_quick()))
        time.sleep(wait_s)
        process.kill()
        process.wait()
    processes.start(*_quick(lease_s=12, answer_s=5))
    _wait_until(lambda: {one.state for one in yard.notices()} == {"told"})
    assert all_states(yard) == {"missed"}
    for one in yard.notices():
        entries = [entry["alarm_id"] for entry in one.params["missed"]]
        assert len(entries) == len(set(entries)) == one.params["missed_n"] == 4 * len(KINDS)
    shown = receiver.shown()
    assert {name: len(shown[name]) for name in members} == dict.fromkeys(members, 1)


def test_a_process_promises_to_be_heard_of_and_says_when_it_ends(
    app: Flask, yard: Yard, processes: Processes
) -> None:
    process = processes.start("tackwatch.cli", "alarms")
    _wait_until(lambda: len(_known()) == 1)
    (one,) = _known()
    assert timedelta(minutes=6) < one.next_beat_by - one.beat_at < timedelta(minutes=7)
    assert _rings()
    process.terminate()
    assert process.wait(20) == 0
    assert not _rings()


def test_counts_are_right_with_three_processes(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    members = crew_of(yard, receiver, 3)
    yard.wanted_so_far = []
    processes.start(*_quick(lease_s=30), count=3)
    for name in ("a", "b", "c", "d", "e"):
        want_many(yard, [*members.values()], datetime.now(UTC), timedelta(hours=1), name)
    _wait_until(lambda: all_states(yard) == {"told"})
    each = 5 * 3 * len(KINDS)
    found: Counter[tuple[str, str]] = Counter()
    for one in health.sums():
        found[one.channel, one.result] += one.count
    db.session.rollback()
    found.pop(("push", "failed"), None)  # a slow machine lets a try run out of time
    assert found == {("alarm", "told"): each, ("page", "sent"): each, ("push", "sent"): each}


def _known() -> list[heartbeats.Beat]:
    db.session.rollback()
    return heartbeats.known()


def _rings() -> bool:
    db.session.rollback()
    return bells(datetime.now(UTC))[1]
