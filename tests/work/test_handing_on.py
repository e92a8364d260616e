"""Planned steps, the launch, quiet hours, and an alarm that goes from person to person; through the real door.

The bell's own steps (claim, look up, show, settle) are done by hand, with the clock standing still between.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from flask import Flask

from tackwatch.work import ring
from tackwatch.work.ring import Settled
from tests.support.phone import Phone
from tests.support.world import StandingClock
from tests.work.test_what_follows import Yard, iso

LEASE = timedelta(seconds=45)


class Bell:
    """Rings what is due by the standing clock; keeps whom it told of what."""

    def __init__(self, app: Flask, clock: StandingClock) -> None:
        self.app, self.clock = app, clock

    def look(self) -> list[tuple[str, str, Any]]:
        """Give (member, kind, why withdrawn) of what was told."""
        now = self.clock.now()
        with self.app.app_context():
            claimed = ring.claim("bell", now, LEASE, 50)
            ringing, nobody = ring.look_up(claimed)
            ring.settle(nobody)
            told = ring.show(ringing, now)
            ring.settle([Settled(one.alarm, "told", {}) for one in told])
        return sorted(
            (one.alarm.member_id, one.alarm.kind, one.alarm.params.get("withdrawn")) for one in told
        )

    def until(self, at: datetime) -> list[tuple[str, str, Any]]:
        """Ring all that falls due up to an instant."""
        told = []
        while True:
            with self.app.app_context():
                due_at = ring.next_look_at()
            if due_at is None or due_at > at:
                self.clock.at = at
                return told
            self.clock.at = max(self.clock.at, due_at)
            told += self.look()


@pytest.fixture
def yard(owner: Phone, clock: StandingClock) -> Yard:
    return Yard(owner, clock)


@pytest.fixture
def bell(app: Flask, clock: StandingClock) -> Bell:
    return Bell(app, clock)


def plan(yard: Yard, start: datetime, end: datetime | None = None) -> None:
    yard.owner.sync()
    fields = {"planned_start_at": iso(start), "planned_end_at": iso(end) if end else None}
    yard.owner.set("step", yard.second, fields)
    yard.owner.sync()


def rule(phone: Phone, **fields: Any) -> str:
    phone.sync()
    made = phone.create("ring_rule", {"member_id": phone.member_id, **fields})
    phone.sync()
    return made


def due_of(yard: Yard, alarm_id: str, phone: Phone | None = None) -> datetime:
    return datetime.fromisoformat(yard.alarms(phone)[alarm_id]["due_at"])


def mark(phone: Phone, kind: str, alarm_id: str, at: datetime, **more: datetime) -> None:
    names = {"seen": "seen_at", "snoozed": "snoozed_at", "handled": "handled_at"}
    instants = {names[kind]: at, **more}
    phone.record(kind, {"alarm_id": alarm_id, **{name: iso(one) for name, one in instants.items()}})
    phone.sync()


def test_a_planned_step_is_due_a_lead_and_the_way_to_the_boat_before_and_late_after(yard: Yard):
    start = yard.clock.now() + timedelta(hours=5)
    plan(yard, start, start + timedelta(hours=2))
    assert due_of(yard, f"{yard.second}.step_due") == start - timedelta(minutes=25)
    assert due_of(yard, f"{yard.second}.step_late") == start + timedelta(minutes=15)
    rule(yard.painter, kind="step_due", lead_min=30, walk_min=0)
    assert due_of(yard, f"{yard.second}.step_due") == start - timedelta(minutes=30)
    yard.mark(yard.painter, yard.second, "started")
    assert f"{yard.second}.step_due" not in yard.alarms()
    assert due_of(yard, f"{yard.second}.step_late") == start + timedelta(hours=2, minutes=15)
    yard.mark(yard.painter, yard.second, "finished")
    assert not [id_ for id_ in yard.alarms() if id_.startswith(yard.second)]


def test_a_planned_step_of_nobody_rings_the_owner_and_a_held_one_nobody(yard: Yard):
    start = yard.clock.now() + timedelta(hours=5)
    yard.owner.set("step", yard.first, {"planned_start_at": iso(start)})
    yard.owner.sync()
    assert f"{yard.first}.step_due" in yard.alarms(yard.owner)
    assert f"{yard.first}.step_due" not in yard.alarms()
    yard.owner.set("step", yard.first, {"held": "parts"})
    yard.owner.sync()
    assert f"{yard.first}.step_due" not in yard.alarms(yard.owner)


def test_a_start_over_a_change_of_the_clocks_is_told_by_its_instant(yard: Yard):
    """Lisbon's clocks go on an hour on 29 March 2026 at 01:00 UTC: eight in the morning is 07:00 UTC then."""
    start = datetime.fromisoformat("2026-03-29T07:00:00+00:00")
    plan(yard, start)
    assert due_of(yard, f"{yard.second}.step_due") == start - timedelta(minutes=25)


def test_the_countdown_keeps_the_time_of_day_over_a_change_of_the_clocks(yard: Yard):
    """The launch is at nine by the wall on 1 April; the clocks go on between, on 29 March."""
    launch = datetime.fromisoformat("2026-04-01T08:00:00+00:00")
    yard.owner.set("refit", yard.owner.refit_id, {"launch_at": iso(launch)})
    yard.owner.sync()
    found = [
        due_of(yard, f"{yard.owner.refit_id}.launch_countdown_{days}", yard.owner)
        for days in (7, 3, 1)
    ]
    wall = ["2026-03-25T09:00:00+00:00", "2026-03-29T08:00:00+00:00", "2026-03-31T08:00:00+00:00"]
    assert [one.isoformat() for one in found] == wall
    assert not [id_ for id_ in yard.alarms() if "launch" in id_], "a hand does not ask for it"


def test_the_countdown_says_what_stands_open(yard: Yard, bell: Bell):
    launch = yard.clock.now() + timedelta(days=7, hours=1)
    yard.owner.set("refit", yard.owner.refit_id, {"launch_at": iso(launch)})
    yard.owner.create("job", {"title": "Cushions", "afloat_ok": True})
    yard.owner.sync()
    alarm = yard.alarms(yard.owner)[f"{yard.owner.refit_id}.launch_countdown_7"]
    assert (alarm["params"]["open_n"], alarm["params"]["open_titles"]) == (1, ["Barrier coats"])
    for step in (yard.first, yard.second):
        yard.mark(yard.painter, step, "finished")
    alarm = yard.alarms(yard.owner)[f"{yard.owner.refit_id}.launch_countdown_7"]
    assert alarm["params"]["open_n"] == 0
    told = bell.until(launch - timedelta(days=7))
    assert (yard.owner.member_id, "launch_countdown", None) in told


def test_a_reading_is_asked_for_once_six_hours_after_the_last(yard: Yard):
    now = yard.clock.now()
    yard.coat(yard.painter, yard.first, now, now)
    alarm_id = f"{yard.owner.refit_id}.reading_stale"
    assert due_of(yard, alarm_id) == now + timedelta(hours=6)
    yard.clock.forward(hours=2)
    yard.reading(18, yard.clock.now())
    assert due_of(yard, alarm_id) == now + timedelta(hours=8)


def test_a_coat_that_dew_will_reach_before_it_is_dry_is_warned_of(yard: Yard):
    """Air of 12 degC at 90 % has its dew point near 10.4 degC (Magnus); the evening falls below 13.4 degC."""
    yard.clock.forward(hours=9)
    now = yard.clock.now()
    body = {"taken_at": iso(now), "air_c": 12, "surface_c": 14, "rh_pct": 90}
    yard.record(yard.painter, "reading", body)
    coat = yard.coat(yard.painter, yard.first, now, now + timedelta(hours=1))
    alarm = yard.alarms().get(f"{coat}.weather_edge")
    assert alarm is not None
    lost_at = datetime.fromisoformat(alarm["params"]["lost_at"])
    assert now <= lost_at < datetime.fromisoformat(alarm["params"]["dry_at"])
    dry = {**body, "rh_pct": 40, "taken_at": iso(now + timedelta(minutes=1))}
    yard.clock.forward(minutes=1)
    yard.record(yard.painter, "reading", dry)
    assert f"{coat}.weather_edge" not in yard.alarms()


def test_quiet_hours_hold_back_what_can_wait_and_never_a_window_that_closes(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    opens, closing = due_of(yard, f"{coat}.recoat_open"), due_of(yard, f"{coat}.recoat_closing")
    rule(yard.painter, quiet_from="00:00", quiet_to="23:59")
    held = due_of(yard, f"{coat}.recoat_open")
    assert held > opens
    assert f"{held:%H:%M}" == "23:59" or f"{held:%H:%M}" == "22:59"  # Lisbon, winter or summer
    assert due_of(yard, f"{coat}.recoat_closing") == closing
    yard.painter.set("member", yard.painter.member_id, {"time_zone": "Pacific/Auckland"})
    yard.painter.sync()
    assert f"{due_of(yard, f'{coat}.recoat_open'):%H:%M}" in ("10:59", "11:59")


def test_an_unseen_alarm_goes_to_who_is_named_and_then_to_the_owner(yard: Yard, bell: Bell):
    mate = yard.owner.crew("hand", "Mate")
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    rule(yard.painter, unseen_min=10, next_member_id=mate.member_id)
    alarm_id = f"{coat}.recoat_closing"
    due_at = due_of(yard, alarm_id)
    assert alarm_id not in yard.alarms(mate), "not theirs yet"
    bell.until(due_at - timedelta(seconds=1))
    painter, next_, owner = yard.painter.member_id, mate.member_id, yard.owner.member_id
    assert bell.until(due_at) == [(painter, "recoat_closing", None)]
    assert bell.until(due_at + timedelta(minutes=10, seconds=-1)) == []
    assert bell.until(due_at + timedelta(minutes=10)) == [(next_, "recoat_closing", None)]
    assert yard.alarms(mate)[alarm_id]["params"]["handed_name"] == "Painter"
    assert bell.until(due_at + timedelta(minutes=20)) == [(owner, "recoat_closing", None)]
    trace = yard.alarms(yard.owner)[alarm_id]["trace"]
    assert [(one["member_id"], datetime.fromisoformat(one["told_at"])) for one in trace] == [
        (painter, due_at),
        (next_, due_at + timedelta(minutes=10)),
        (owner, due_at + timedelta(minutes=20)),
    ]


def test_seen_in_time_goes_no_further_and_seen_late_is_taken_back(yard: Yard, bell: Bell):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    rule(yard.painter, unseen_min=10)
    alarm_id = f"{coat}.recoat_closing"
    due_at = due_of(yard, alarm_id)
    bell.until(due_at + timedelta(minutes=10))
    assert yard.alarms(yard.owner)[alarm_id]["state"] == "told"
    yard.clock.forward(minutes=1)
    mark(yard.painter, "seen", alarm_id, yard.clock.now())
    assert bell.look() == [(yard.owner.member_id, "recoat_closing", "seen")]
    # another one, seen in time
    yard.clock.forward(days=3)
    start = yard.clock.now()
    second = yard.coat(yard.painter, yard.first, start, start)
    due_at = due_of(yard, f"{second}.recoat_closing")
    bell.until(due_at)
    mark(yard.painter, "seen", f"{second}.recoat_closing", due_at + timedelta(minutes=1))
    told = bell.until(due_at + timedelta(hours=1))
    assert (yard.owner.member_id, "recoat_closing", None) not in told


def test_what_was_told_late_is_handed_on_as_much_later(yard: Yard, bell: Bell):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    rule(yard.painter, unseen_min=10)
    due_at = due_of(yard, f"{coat}.recoat_closing")
    bell.until(due_at - timedelta(seconds=1))
    yard.clock.at = due_at + timedelta(minutes=7)  # no alarm process ran
    assert (yard.painter.member_id, "recoat_closing", None) in bell.look()
    late = yard.clock.now() + timedelta(minutes=10)
    assert bell.until(late - timedelta(seconds=1)) == []
    assert bell.until(late) == [(yard.owner.member_id, "recoat_closing", None)]


def test_put_off_rings_again_when_the_time_is_over(yard: Yard, bell: Bell):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    alarm_id = f"{coat}.recoat_open"
    bell.until(due_of(yard, alarm_id))
    assert yard.alarms()[alarm_id]["state"] == "told"
    until = yard.clock.now() + timedelta(minutes=11)
    yard.clock.forward(minutes=1)
    mark(yard.painter, "snoozed", alarm_id, yard.clock.now(), until_at=until)
    assert due_of(yard, alarm_id) == until
    assert (yard.painter.member_id, "recoat_open", None) in bell.until(until)
    # seen after it was put off: it stays silent
    yard.clock.forward(minutes=1)
    again = yard.clock.now() + timedelta(minutes=10)
    mark(yard.painter, "snoozed", alarm_id, yard.clock.now(), until_at=again)
    yard.clock.forward(minutes=1)
    mark(yard.painter, "seen", alarm_id, yard.clock.now())
    assert (yard.painter.member_id, "recoat_open", None) not in bell.until(again)


def test_done_ends_it_for_everybody_and_is_told_to_those_who_were_rung(yard: Yard, bell: Bell):
    now = yard.clock.now()
    coat = yard.coat(yard.owner, yard.first, now, now)
    alarm_id = f"{coat}.recoat_open"
    bell.until(due_of(yard, alarm_id))
    yard.clock.forward(minutes=1)
    mark(yard.painter, "handled", alarm_id, yard.clock.now())
    assert bell.look() == [(yard.owner.member_id, "recoat_open", "done")]
    assert yard.alarms()[alarm_id]["state"] == "seen", "who did it knows"
    assert yard.alarms(yard.owner)[alarm_id]["state"] == "done"


def test_a_coat_that_is_taken_back_is_taken_back_from_the_phones(yard: Yard, bell: Bell):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    bell.until(due_of(yard, f"{coat}.recoat_open"))
    yard.clock.forward(minutes=1)
    yard.record(yard.painter, "application", {}, replaces=coat, void=True)
    assert (yard.painter.member_id, "recoat_open", "gone") in bell.look()
    assert bell.look() == []
    assert f"{coat}.recoat_open" not in yard.alarms()


def test_a_person_who_looks_on_is_rung_about_a_step_that_they_asked_for(yard: Yard):
    partner = yard.owner.crew("viewer", "Partner")
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    assert yard.alarms(partner) == {}
    rule(partner, step_id=yard.second, kind="recoat_open", off=False)
    assert set(yard.alarms(partner)) == {f"{coat}.recoat_open"}
