"""What could not be told in time: one notice for each person, whatever is killed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import event

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.message import message_of
from tackwatch.store import health
from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tackwatch.trade.warnings import iso_of
from tackwatch.work import missed, ring
from tackwatch.work.calendar import entries_of
from tackwatch.work.my_alarms import my_alarms
from tackwatch.work.ring import Settled
from tests.alarms.yard import NOON, Yard, minutes, wanted
from tests.support.push_receiver import PushReceiver
from tests.support.world import StandingClock

LATER = NOON + timedelta(hours=5)  # when the server is back


def pass_by(
    yard: Yard, member: str, *names: str, kind: str = "recoat_closing", **params: Any
) -> None:
    """Let alarms of a member fall due and lose their use while no process runs."""
    yard.keep(
        *[
            wanted(member, NOON + minutes(number), alarm=name, kind=kind, **params)
            for number, name in enumerate(names)
        ],
        now=NOON - minutes(60),
    )


def notice(yard: Yard) -> Alarm:
    (found,) = yard.notices()
    return found


def listed(row: Alarm) -> list[str]:
    return [one["alarm_id"].partition(".")[0] for one in row.params["missed"]]


def test_all_that_a_person_missed_is_in_one_notice_in_the_order_in_which_it_was_due(
    yard: Yard,
) -> None:
    member = yard.member()
    pass_by(yard, member, "hull", "keel", "rudder")
    assert missed.sweep(LATER) == 3
    found = notice(yard)
    assert (found.member_id, found.kind, found.state) == (member, "missed_alarms", "due")
    assert (found.due_at, found.params["missed_n"]) == (LATER, 3)
    assert listed(found) == ["hull", "keel", "rudder"]
    assert found.params["missed"][0] == {
        "alarm_id": "hull.recoat_closing",
        "kind": "recoat_closing",
        "due_at": iso_of(NOON),
        "product": "Epoxy primer, generic",
        "zone": "Port hull",
    }
    assert set(yard.states().values()) == {"missed"}


def test_each_person_has_their_own(yard: Yard) -> None:
    first, second = yard.member(), yard.member(language="es")
    yard.keep(wanted(first, NOON), wanted(second, NOON), now=NOON - minutes(60))
    missed.sweep(LATER)
    assert {one.member_id for one in yard.notices()} == {first, second}
    assert len({one.alarm_id for one in yard.notices()}) == 2


def test_what_is_still_of_use_is_left_to_be_told(yard: Yard) -> None:
    member = yard.member()
    yard.keep(
        wanted(member, NOON, alarm="over"),
        wanted(member, NOON, alarm="useful", useless_after=LATER + minutes(1)),
        now=NOON - minutes(60),
    )
    missed.sweep(LATER)
    assert yard.states() == {"over.recoat_closing": "missed", "useful.recoat_closing": "due"}
    assert listed(notice(yard)) == ["over"]


def test_a_second_look_finds_nothing_more(yard: Yard) -> None:
    pass_by(yard, yard.member(), "hull")
    assert (missed.sweep(LATER), missed.sweep(LATER)) == (1, 0)
    assert notice(yard).params["missed_n"] == 1


def test_what_is_missed_before_the_notice_was_seen_is_added_to_it(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    missed.sweep(LATER)
    (claimed,) = ring.claim("a", LATER, timedelta(seconds=45), 9)
    ring.settle([Settled(claimed, "told", {})])
    yard.keep(wanted(member, LATER, alarm="keel"), now=LATER)
    missed.sweep(LATER + timedelta(hours=3))
    found = notice(yard)
    assert listed(found) == ["hull", "keel"]
    assert (found.state, found.due_at, found.attempts) == ("due", LATER + timedelta(hours=3), 0)


def test_after_it_was_seen_a_new_one_begins(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    missed.sweep(LATER)
    seen = {(member, f"{member}.missed_alarms"): LATER + minutes(1)}
    yard.keep(now=LATER + minutes(1), seen=seen)
    assert notice(yard).state == "seen"
    much_later = LATER + timedelta(hours=9)
    yard.keep(wanted(member, LATER + minutes(30), alarm="keel"), now=LATER + minutes(2), seen=seen)
    missed.sweep(much_later)
    assert (listed(notice(yard)), notice(yard).state) == (["keel"], "due")
    yard.keep(now=much_later, seen=seen)
    assert notice(yard).state == "due", "what was seen before covers nothing that came later"


def test_no_sync_takes_a_notice_away(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    missed.sweep(LATER)
    yard.keep(now=LATER + minutes(1))
    assert notice(yard).state == "due"


def test_a_sync_that_comes_before_the_alarm_process_loses_no_notice(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    yard.keep(wanted(member, NOON, alarm="hull"), now=LATER)
    assert yard.states() == {"hull.recoat_closing": "due"}
    missed.sweep(LATER)
    assert listed(notice(yard)) == ["hull"]


def test_what_its_person_saw_on_the_phone_meanwhile_is_not_missed(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    seen = {(member, "hull.recoat_closing"): NOON + minutes(1)}
    yard.keep(wanted(member, NOON, alarm="hull"), now=LATER, seen=seen)
    assert missed.sweep(LATER) == 0
    assert yard.notices() == []


def test_what_is_seen_after_the_server_came_back_leaves_the_list(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull", "keel")
    missed.sweep(LATER)
    seen = {(member, "hull.recoat_closing"): NOON + minutes(1)}
    both = [wanted(member, NOON, alarm="hull"), wanted(member, NOON + minutes(1), alarm="keel")]
    yard.keep(*both, now=LATER, seen=seen)
    (mine,) = [one for one in my_alarms(yard.refit_id, member, LATER) if one.kind == missed.KIND]
    assert [one["alarm_id"] for one in mine.params["missed"]] == ["keel.recoat_closing"]
    assert mine.params["missed_n"] == 1


def test_what_was_called_off_is_no_news(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    yard.change(state="told", told_at=NOON, outcome={"told_for": NOON.isoformat()})
    yard.keep(now=NOON + minutes(1))
    assert "withdrawn" in yard.one().params
    missed.sweep(LATER + timedelta(days=1))
    assert (yard.one().state, yard.notices()) == ("withdrawn", [])


def test_what_one_phone_took_was_told(yard: Yard) -> None:
    pass_by(yard, yard.member(), "hull")
    how = {"channels": {"d": {"result": "accepted"}, "mail": {"result": "later"}}}
    yard.change(state="claimed", lease_until=NOON + minutes(61), outcome=how)
    missed.sweep(LATER)
    assert (yard.one().state, yard.notices()) == ("told", [])


def test_who_left_the_crew_is_told_nothing(yard: Yard) -> None:
    member = yard.member(gone=True)
    pass_by(yard, member, "hull")
    missed.sweep(LATER)
    assert (yard.one().state, yard.notices()) == ("missed", [])


def test_what_is_being_delivered_stays_with_its_deliverer(yard: Yard) -> None:
    pass_by(yard, yard.member(), "hull")
    yard.change(
        state="claimed",
        claimed_by="a",
        attempts=1,
        told_at=NOON + minutes(1),
        lease_until=LATER + minutes(1),
    )
    assert missed.sweep(LATER) == 0
    assert yard.one().claimed_by == "a"


def test_what_was_claimed_too_late_and_settled_by_its_holder_counts_once(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull", "keel")
    (hull, keel) = ring.claim("a", NOON + minutes(2), timedelta(hours=9), 9)
    missed.sweep(LATER)  # another process: both were claimed and never shown
    ring.settle([Settled(hull, "missed", {}), Settled(keel, "missed", {})], LATER)
    assert (listed(notice(yard)), notice(yard).params["missed_n"]) == (["hull", "keel"], 2)


def test_what_no_channel_took_while_it_was_of_use_is_noted_when_its_claim_ends(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    (hull,) = ring.claim("a", NOON, timedelta(hours=9), 9)
    ring.settle([Settled(hull, "missed", {"d": {"result": "refused"}})], LATER)
    assert listed(notice(yard)) == ["hull"]


def test_nobody_is_noted_for_what_nobody_could_be_told(yard: Yard) -> None:
    pass_by(yard, yard.member(), "hull")
    (hull,) = ring.claim("a", NOON, timedelta(hours=9), 9)
    ring.settle([Settled(hull, "missed", {"person": {"result": "no device"}})], LATER)
    assert yard.notices() == []


def test_a_kill_at_any_statement_of_the_settling_loses_and_doubles_nothing(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull", "keel")
    for at in range(1, 60):
        if _killed_at(at):
            assert set(yard.states().values()) == {"due"}, at
            assert yard.notices() == [], at
        else:
            break
    else:
        pytest.fail("the sweep never ended")
    assert at > 3
    assert listed(notice(yard)) == ["hull", "keel"]
    assert missed.sweep(LATER) == 0


def _killed_at(number: int) -> bool:
    """Sweep, and break off at the statement with this number; say whether that was before its end."""
    left = [number]

    def count(*_: Any) -> None:
        left[0] -= 1
        if left[0] == 0:
            raise KeyboardInterrupt

    event.listen(db.engine, "before_cursor_execute", count)
    try:
        missed.sweep(LATER)
    except KeyboardInterrupt:
        return True
    finally:
        event.remove(db.engine, "before_cursor_execute", count)
        db.session.rollback()
    return False


def _rule(yard: Yard, member: str, **fields: Any) -> None:
    with writing():
        yard._item("ring_rule", f"rule-{member}"[:40], {"member_id": member, **fields})


@pytest.mark.parametrize(
    ("kind", "rings_at"),
    [
        ("step_due", datetime.fromisoformat("2026-03-04T07:00:00+00:00")),
        ("recoat_closing", NOON + timedelta(hours=11)),
    ],
)
def test_quiet_hours_hold_it_back_only_if_all_that_was_missed_could_wait(
    yard: Yard, kind: str, rings_at: datetime
) -> None:
    member = yard.member()
    _rule(yard, member, quiet_from="22:00", quiet_to="07:00")
    pass_by(yard, member, "hull", kind=kind)
    missed.sweep(NOON + timedelta(hours=11))  # 23:00 in Lisbon, in winter the same as UTC
    assert notice(yard).due_at == rings_at


def test_it_goes_the_ways_of_what_was_missed(yard: Yard) -> None:
    member = yard.member()
    yard.keep(
        wanted(member, NOON, alarm="a", by_push=False, by_mail=True),
        wanted(member, NOON, alarm="b", by_push=False, by_mail=False, by_webhook=True),
        now=NOON - minutes(60),
    )
    missed.sweep(LATER)
    ways = {name: notice(yard).params[name] for name in ("by_push", "by_mail", "by_webhook")}
    assert ways == {"by_push": False, "by_mail": True, "by_webhook": True}


def test_no_calendar_rings_it(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, "hull")
    missed.sweep(LATER)
    assert list(entries_of(yard.refit_id, member, LATER)) == ["hull.recoat_closing"]


def test_a_hundred_missed_alarms_are_counted_and_the_latest_listed(yard: Yard) -> None:
    member = yard.member()
    pass_by(yard, member, *[f"coat{number:03}" for number in range(100)])
    missed.sweep(NOON + timedelta(days=1))
    found = notice(yard)
    assert (found.params["missed_n"], len(found.params["missed"])) == (100, missed.MOST_LISTED)
    assert listed(found)[-1] == "coat099"


def test_a_push_of_it_leads_to_the_alarms_and_is_urgent_if_something_missed_was(
    yard: Yard, bell: Bell, receiver: PushReceiver, hand: StandingClock
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    yard.keep(wanted(member, hand.at), now=hand.at)
    hand.forward(hours=2)
    bell.look()
    (push,) = receiver.wait_for(1)
    assert push.payload["kind"] == missed.KIND
    assert push.payload["url"] == "/#/alarms"
    assert push.headers["Urgency"] == "high"
    bell._room.wait_until_all_free()
    assert notice(yard).state == "told"


def test_what_was_sent_and_missed_is_counted_in_the_transaction_that_settles(
    app: Flask, yard: Yard, bell: Bell, receiver: PushReceiver, hand: StandingClock
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    yard.keep(
        wanted(member, hand.at, alarm="over", useless_after=hand.at + minutes(1)),
        wanted(member, hand.at, alarm="useful", useless_after=hand.at + minutes(60)),
        now=hand.at,
    )
    hand.forward(minutes=10)
    bell.look()
    receiver.wait_for(2)
    bell._room.wait_until_all_free()
    found = {(one.channel, one.result, one.late_le): one.count for one in health.sums()}
    assert found == {
        ("alarm", "missed", ""): 1,
        ("alarm", "told", ""): 2,
        ("page", "sent", "1"): 1,  # the notice
        ("page", "sent", "900"): 1,
        ("push", "sent", "1"): 1,
        ("push", "sent", "900"): 1,
    }


def test_the_message_of_a_notice_fits_a_push(yard: Yard) -> None:
    member = yard.member()
    pass_by(
        yard, member, *[f"coat{number:03}" for number in range(60)],
        zone="Port hull below the waterline, aft of the shaft log", product="Epoxy primer " * 4,
    )  # fmt: skip
    missed.sweep(NOON + timedelta(days=1))
    (claimed,) = ring.claim("a", NOON + timedelta(days=1), timedelta(minutes=1), 9)
    (ringing,), _ = ring.look_up([claimed])
    assert len(message_of(ringing, NOON + timedelta(days=1)).payload) < 3_900
