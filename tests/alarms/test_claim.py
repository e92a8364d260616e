"""Claims: each alarm is taken by one holder, and a dead holder's alarms are taken over."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta

import pytest
from flask import Flask

from tackwatch.store import alarms as rows
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.db import db, writing
from tackwatch.work import ring
from tackwatch.work.ring import Settled
from tests.alarms.yard import NOON, Yard, minutes, wanted

LEASE = timedelta(seconds=45)


def _claim(owner: str = "a", now: datetime = NOON, most: int = 100) -> list[AlarmRow]:
    return ring.claim(owner, now, LEASE, most)


def _due(yard: Yard, count: int = 1) -> str:
    member = yard.member()
    yard.keep(
        *[
            wanted(
                member, NOON - minutes(one), alarm=f"coat{one}", useless_after=NOON + minutes(60)
            )
            for one in range(count)
        ]
    )
    return member


def test_only_what_is_due_is_claimed_the_longest_due_first(yard: Yard) -> None:
    member = yard.member()
    yard.keep(
        wanted(member, NOON, alarm="now"),
        wanted(member, NOON - minutes(5), alarm="before"),
        wanted(member, NOON + minutes(1), alarm="later"),
    )
    assert [alarm.source_id for alarm in _claim()] == ["before", "now"]
    assert [alarm.source_id for alarm in _claim(now=NOON + LEASE)] == ["before", "now"]
    assert [alarm.source_id for alarm in _claim(now=NOON + minutes(1), most=1)] == ["later"]


def test_no_more_is_claimed_than_asked_for(yard: Yard) -> None:
    _due(yard, 10)
    taken = [alarm.id for most in (1, 4, 10) for alarm in _claim(most=most)]
    assert len(taken) == len(set(taken)) == 10


def test_a_claim_is_not_taken_over_before_its_lease_ends(yard: Yard) -> None:
    _due(yard)
    (first,) = _claim("a")
    assert _claim("b", NOON + LEASE - timedelta(milliseconds=1)) == []
    (second,) = _claim("b", NOON + LEASE)
    assert (first.attempts, second.attempts, second.claimed_by) == (1, 2, "b")


def test_who_slept_past_the_lease_changes_nothing_any_more(yard: Yard) -> None:
    _due(yard)
    (first,) = _claim("a")
    (second,) = _claim("b", NOON + LEASE)
    ring.settle([Settled(first, "told", {"d": {"result": "accepted"}})])
    assert yard.one().state == "claimed"
    ring.settle([Settled(second, "told", {})])
    assert (yard.one().state, yard.one().claimed_by) == ("told", None)


def test_a_holder_that_took_its_own_lapsed_claim_again_settles_the_new_one_only(
    yard: Yard,
) -> None:
    _due(yard)
    (first,) = _claim("a")
    _claim("a", NOON + LEASE)
    ring.settle([Settled(first, "missed", {})])
    assert yard.one().state == "claimed"


def test_what_is_to_be_tried_again_waits_for_its_instant(yard: Yard) -> None:
    _due(yard)
    (first,) = _claim()
    ring.settle([Settled(first, "claimed", {}, NOON + minutes(2))])
    assert ring.next_look_at() == NOON + minutes(2)
    assert _claim("b", NOON + minutes(1)) == []
    (again,) = _claim("b", NOON + minutes(2))
    assert again.attempts == 2


def test_what_was_withdrawn_while_it_was_told_is_called_off(yard: Yard) -> None:
    _due(yard)
    (alarm,) = _claim()
    yard.keep()
    assert yard.one().state == "withdrawn"
    ring.settle([Settled(alarm, "told", {"d": {"result": "accepted"}})])
    assert (yard.one().state, yard.one().params["withdrawn"]) == ("due", "gone")
    (off,) = _claim("b")
    ring.settle([Settled(off, "told", {"d": {"result": "accepted"}})])
    assert yard.one().state == "withdrawn"
    assert _claim("c", NOON + timedelta(days=1)) == []


def test_the_next_look_is_the_earliest_of_due_and_lease(yard: Yard) -> None:
    assert ring.next_look_at() is None
    member = yard.member()
    yard.keep(wanted(member, NOON, alarm="a"), wanted(member, NOON + minutes(9), alarm="b"))
    assert ring.next_look_at() == NOON
    _claim()
    assert ring.next_look_at() == NOON + LEASE
    yard.keep(wanted(member, NOON + minutes(9), alarm="b"))
    assert ring.next_look_at() == NOON + minutes(9)


def test_settled_alarms_are_not_looked_at(yard: Yard) -> None:
    _due(yard)
    ring.settle([Settled(alarm, "told", {}) for alarm in _claim()])
    assert ring.next_look_at() is None
    assert _claim(now=NOON + timedelta(days=9)) == []


def test_four_threads_take_each_alarm_exactly_once(app: Flask, yard: Yard) -> None:
    _due(yard, 200)
    taken: list[int] = []
    start = threading.Barrier(4)

    def take(owner: str) -> None:
        with app.app_context():
            start.wait()
            while claimed := _claim(owner, most=3):
                taken.extend(alarm.id for alarm in claimed)

    threads = [threading.Thread(target=take, args=(f"holder{one}",)) for one in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == 200
    assert len(set(taken)) == 200


def test_beside_a_running_sync_each_alarm_is_taken_once(app: Flask, yard: Yard) -> None:
    _due(yard, 2)
    found: list[AlarmRow] = []

    def take() -> None:
        with app.app_context():
            found.extend(_claim("b"))

    thread = threading.Thread(target=take)
    with writing():
        rows.of_refit(yard.refit_id)
        thread.start()
        thread.join(1)
        assert found == []
        if db.engine.dialect.name == "postgresql":
            assert not thread.is_alive(), "the claim waited for the sync and did not skip its rows"
    thread.join(20)
    found += _claim("c")
    assert len({alarm.id for alarm in found}) == len(found) == 2


@pytest.mark.parametrize("state", ["due", "claimed"])
def test_looking_for_work_uses_the_small_index(yard: Yard, state: str) -> None:
    column = {"due": "due_at", "claimed": "lease_until"}[state]
    index = {"due": "ix_alarm_due", "claimed": "ix_alarm_lease"}[state]
    query = f"SELECT min({column}) FROM alarm WHERE alarm.state = '{state}'"
    postgres = db.engine.dialect.name == "postgresql"
    with db.engine.connect() as connection:
        if postgres:
            connection.exec_driver_sql("SET enable_seqscan = off")
        how = "EXPLAIN " if postgres else "EXPLAIN QUERY PLAN "
        plan = " ".join(str(line) for line in connection.exec_driver_sql(how + query))
    assert index in plan
