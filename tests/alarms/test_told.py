"""What open pages are shown: each alarm once for each due instant, in an order that no reader can miss."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime, timedelta

from flask import Flask

from tackwatch.store import live
from tackwatch.store.models import Alarm
from tackwatch.work import ring
from tackwatch.work.ring import Ringing, Settled
from tests.alarms.yard import NOON, Yard, minutes, wanted

LEASE = timedelta(seconds=45)
BEFORE = NOON - timedelta(days=1)


def _ringing(owner: str = "a", now: datetime = NOON, most: int = 100) -> list[Ringing]:
    ringing, nobody = ring.look_up(ring.claim(owner, now, LEASE, most))
    assert nobody == []
    return ringing


def _told_since(refit_id: str, member_id: str, after: datetime, last_id: int = 0) -> list[Alarm]:
    """Read as the open pages do, from a reader's place (after, last_id) on."""
    found = live.told_since([refit_id], after)
    return [
        one
        for one in found
        if one.member_id == member_id and (one.told_at, one.id) > (after, last_id)
    ]


def test_a_shown_alarm_is_read_once_by_its_own_member(yard: Yard) -> None:
    mine, other = yard.member(), yard.member()
    yard.keep(wanted(mine, NOON), wanted(other, NOON))
    ring.show(_ringing(), NOON)
    (told,) = _told_since(yard.refit_id, mine, BEFORE)
    assert (told.alarm_id, told.due_at) == ("coat.recoat_closing", NOON)
    assert told.params["zone"] == "Port hull"
    assert _told_since(yard.refit_id, mine, told.told_at, told.id) == []


def test_nothing_of_another_refit_is_read(yard: Yard) -> None:
    yard.keep(wanted(yard.member(), NOON))
    ring.show(_ringing(), NOON)
    assert _told_since(Yard().refit_id, yard.one().member_id, BEFORE) == []


def test_who_lost_the_claim_shows_nothing(yard: Yard) -> None:
    yard.keep(wanted(yard.member(), NOON))
    late = _ringing("a")
    _ringing("b", NOON + LEASE)
    assert ring.show(late, NOON + LEASE) == []
    assert yard.one().told_at is None


def test_a_second_holder_shows_it_no_second_time(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    ring.show(_ringing("a"), NOON)
    (told,) = _told_since(yard.refit_id, member, BEFORE)
    assert ring.show(_ringing("b", NOON + LEASE), NOON + LEASE) != []
    assert _told_since(yard.refit_id, member, told.told_at, told.id) == []


def test_due_again_is_shown_again(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    ring.settle([Settled(one.alarm, "told", {}) for one in ring.show(_ringing(), NOON)])
    (told,) = _told_since(yard.refit_id, member, BEFORE)
    place = (told.told_at, told.id)
    later = NOON + minutes(10)
    yard.keep(wanted(member, later))
    ring.show(_ringing(now=later), later)
    (again,) = _told_since(yard.refit_id, member, *place)
    assert (again.id, again.due_at) == (place[1], later)


def test_what_was_seen_meanwhile_is_not_shown(yard: Yard) -> None:
    member = yard.member()
    one = wanted(member, NOON)
    yard.keep(one)
    ringing = _ringing()
    yard.keep(one, seen={(member, one.alarm_id): NOON})
    assert ring.show(ringing, NOON) == []


def test_a_clock_that_steps_back_does_not_hide_an_alarm_from_a_reader(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON, alarm="a"), wanted(member, NOON - minutes(30), alarm="b"))
    first, second = _ringing()
    ring.show([first], NOON)
    (told,) = _told_since(yard.refit_id, member, BEFORE)
    ring.show([second], NOON - minutes(20))
    assert len(_told_since(yard.refit_id, member, told.told_at, told.id)) == 1


def test_a_reader_misses_nothing_that_four_threads_show(app: Flask, yard: Yard) -> None:
    member = yard.member()
    yard.keep(*[wanted(member, NOON, alarm=f"coat{one}") for one in range(60)])
    ringing = _ringing()
    start, done = threading.Barrier(4), threading.Event()
    read: list[int] = []

    def show(part: int) -> None:
        with app.app_context():
            start.wait()
            for one in ringing[part::4]:
                ring.show([one], NOON)

    def reader() -> None:
        with app.app_context():
            after, last_id = BEFORE, 0
            ending = False
            while not ending:
                ending = done.is_set()
                for told in _told_since(yard.refit_id, member, after, last_id):
                    read.append(told.id)
                    after, last_id = told.told_at, told.id
                ring.next_look_at()  # ends the reader's transaction

    reading = threading.Thread(target=reader)
    reading.start()
    threads = [threading.Thread(target=show, args=(part,)) for part in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    done.set()
    reading.join()
    assert sorted(read) == sorted(one.alarm.id for one in ringing)


def test_after_an_outage_the_next_person_waits_until_the_first_had_their_time(yard: Yard) -> None:
    painter, mate = yard.member(), yard.member()
    handed = {"handed_from": painter, "handed_after_s": 600.0}
    first = wanted(painter, NOON)
    yard.keep(first, replace(wanted(mate, NOON + minutes(10)), params={**first.params, **handed}))
    late = NOON + minutes(30)  # both are due by now
    shown = ring.show(_ringing(now=late), late)
    assert [one.alarm.member_id for one in shown] == [painter]
    waits = next(one for one in yard.alarms() if one.member_id == mate)
    assert (waits.state, waits.due_at, waits.told_at) == ("due", late + minutes(10), None)
    ring.settle([Settled(shown[0].alarm, "told", {})])
    (next_one,) = ring.show(_ringing(now=late + minutes(10)), late + minutes(10))
    assert next_one.alarm.member_id == mate


def test_who_could_not_be_told_holds_nobody_back(yard: Yard) -> None:
    painter, mate = yard.member(), yard.member()
    handed = {"handed_from": painter, "handed_after_s": 600.0}
    first = wanted(painter, NOON)
    yard.keep(first, replace(wanted(mate, NOON + minutes(10)), params={**first.params, **handed}))
    (mine,) = [one for one in _ringing() if one.alarm.member_id == painter]
    ring.settle([Settled(mine.alarm, "missed", {})])
    (shown,) = ring.show(_ringing(now=NOON + minutes(10)), NOON + minutes(10))
    assert shown.alarm.member_id == mate
