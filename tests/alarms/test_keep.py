"""Keeping alarms in step with clocks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event, select

from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tackwatch.work.keep_alarms import Moved, Wanted
from tests.alarms.yard import NOON, Yard, minutes, wanted

IN_AN_HOUR = NOON + minutes(60)


def test_a_wanted_warning_becomes_one_due_alarm(yard: Yard) -> None:
    member = yard.member()
    kept = yard.keep(wanted(member, IN_AN_HOUR))
    alarm = yard.one()
    assert kept.made == ((member, "coat.recoat_closing"),)
    assert (alarm.state, alarm.due_at, alarm.kind) == ("due", IN_AN_HOUR, "recoat_closing")
    assert alarm.params["zone"] == "Port hull"


def test_the_same_want_again_changes_nothing(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, IN_AN_HOUR))
    kept = yard.keep(wanted(member, IN_AN_HOUR))
    assert (kept.made, kept.moved, kept.withdrawn) == ((), (), ())
    assert yard.one().state == "due"


def test_one_alarm_for_each_person_and_none_shared(yard: Yard) -> None:
    first, second = yard.member(), yard.member()
    yard.keep(wanted(first, IN_AN_HOUR), wanted(second, IN_AN_HOUR))
    assert sorted(alarm.member_id for alarm in yard.alarms()) == sorted([first, second])


def test_an_alarm_that_moved_is_moved_and_not_doubled(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, IN_AN_HOUR))
    sooner = IN_AN_HOUR - minutes(20)
    kept = yard.keep(wanted(member, sooner))
    assert kept.moved == (Moved(member, "coat.recoat_closing", IN_AN_HOUR, sooner),)
    assert yard.one().due_at == sooner


def test_of_two_wants_for_one_alarm_the_earlier_counts(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, IN_AN_HOUR), wanted(member, IN_AN_HOUR - minutes(5)))
    assert yard.one().due_at == IN_AN_HOUR - minutes(5)


@pytest.mark.parametrize("state", ["due", "claimed"])
def test_what_is_not_wanted_and_not_told_is_withdrawn(yard: Yard, state: str) -> None:
    member = yard.member()
    yard.keep(wanted(member, IN_AN_HOUR))
    yard.change(state=state)
    kept = yard.keep()
    assert yard.one().state == "withdrawn"
    assert kept.withdrawn == ((member, "coat.recoat_closing"),)
    assert yard.keep().withdrawn == ()


def test_what_was_told_and_is_not_wanted_any_more_is_called_off_once(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    kept = yard.keep(now=NOON + minutes(5))
    alarm = yard.one()
    assert kept.withdrawn == ((member, "coat.recoat_closing"),)
    assert (alarm.state, alarm.due_at) == ("due", NOON + minutes(5))
    assert (alarm.params["withdrawn"], alarm.outcome) == ("gone", {})
    assert yard.keep(now=NOON + minutes(6)).withdrawn == ()
    assert yard.one().due_at == NOON + minutes(5)


def test_what_was_told_and_is_long_of_no_use_is_let_be(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    yard.keep(now=NOON + minutes(61))
    assert yard.one().state == "told"


def test_what_its_person_saw_is_not_called_off(yard: Yard) -> None:
    member = yard.member()
    one = wanted(member, NOON)
    yard.keep(one)
    _told(yard)
    yard.keep(seen={(member, one.alarm_id): NOON}, now=NOON + minutes(5))
    assert yard.one().state == "seen"


def test_what_was_called_off_and_is_wanted_again_is_due_again(yard: Yard) -> None:
    member = yard.member()
    one = wanted(member, NOON)
    yard.keep(one)
    _told(yard)
    yard.keep(now=NOON + minutes(5))
    yard.change(state="claimed", claimed_by="a", attempts=1)
    yard.keep(one, now=NOON + minutes(6))
    alarm = yard.one()
    assert (alarm.state, alarm.due_at, alarm.claimed_by) == ("due", NOON, None)
    assert "withdrawn" not in alarm.params


def test_what_somebody_dealt_with_is_done_for_those_not_told_and_called_off_for_the_others(
    yard: Yard,
) -> None:
    told, untold = yard.member(), yard.member()
    yard.keep(wanted(told, NOON))
    _told(yard)
    one = wanted(untold, NOON + minutes(30))
    yard.keep(wanted(told, NOON), one)
    why = {"withdrawn": "done", "by": "Olga"}
    ended = {(member, one.alarm_id): why for member in (told, untold)}
    yard.keep(ended=ended, now=NOON + minutes(5))
    states = {alarm.member_id: (alarm.state, alarm.params.get("by")) for alarm in yard.alarms()}
    assert states == {told: ("due", "Olga"), untold: ("done", None)}


def test_wanted_again_is_due_again(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, IN_AN_HOUR))
    yard.keep()
    kept = yard.keep(wanted(member, IN_AN_HOUR))
    assert yard.one().state == "due"
    assert kept.made == ()


def test_told_and_moved_by_a_minute_stays_told(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    yard.keep(wanted(member, NOON + minutes(1)))
    assert yard.one().state == "told"


def test_small_moves_add_up_from_the_instant_that_was_told(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    yard.keep(wanted(member, NOON + minutes(0.9)))
    yard.keep(wanted(member, NOON + minutes(1.8)))
    assert yard.one().state == "due"


def test_told_and_moved_later_into_the_future_is_due_again(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    yard.keep(wanted(member, IN_AN_HOUR))
    alarm = yard.one()
    assert (alarm.state, alarm.claimed_by, alarm.attempts) == ("due", None, 0)
    # and it stays due when its instant has come before a process took it
    yard.keep(wanted(member, IN_AN_HOUR), now=IN_AN_HOUR + minutes(1))
    assert yard.one().state == "due"


def test_told_and_moved_later_but_into_the_past_stays_told(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON - minutes(30)))
    _told(yard, NOON - minutes(30))
    yard.keep(wanted(member, NOON - minutes(10)))
    assert yard.one().state == "told"


def test_told_and_moved_earlier_stays_told(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    _told(yard)
    yard.keep(wanted(member, NOON - minutes(40)))
    assert yard.one().state == "told"


@pytest.mark.parametrize("state", ["due", "claimed", "told", "missed"])
def test_what_was_seen_is_never_rung(yard: Yard, state: str) -> None:
    member = yard.member()
    one = wanted(member, NOON)
    yard.keep(one)
    yard.change(state=state)
    yard.keep(one, seen={(member, one.alarm_id): NOON + minutes(1)})
    assert (yard.one().state, yard.one().seen_at) == ("seen", NOON + minutes(1))


def test_rung_and_seen_on_the_phone_before_the_server_knew_is_seen_at_once(yard: Yard) -> None:
    member = yard.member()
    one = wanted(member, NOON - minutes(30))
    yard.keep(one, seen={(member, one.alarm_id): NOON - minutes(29)})
    assert yard.one().state == "seen"


def test_seen_by_one_person_still_rings_for_the_other(yard: Yard) -> None:
    first, second = yard.member(), yard.member()
    both = [wanted(first, NOON), wanted(second, NOON)]
    yard.keep(*both, seen={(first, both[0].alarm_id): NOON})
    assert {alarm.member_id: alarm.state for alarm in yard.alarms()} == {
        first: "seen",
        second: "due",
    }


def test_a_pot_that_lasts_longer_than_what_was_seen_is_due_again(yard: Yard) -> None:
    member = yard.member()
    seen = {(member, "coat.recoat_closing"): NOON}
    yard.keep(wanted(member, NOON), seen=seen)
    yard.keep(wanted(member, IN_AN_HOUR), seen=seen)
    assert yard.one().state == "due"
    yard.keep(wanted(member, IN_AN_HOUR), seen=seen, now=IN_AN_HOUR + minutes(1))
    assert yard.one().state == "due"
    yard.keep(wanted(member, IN_AN_HOUR), seen={(member, "coat.recoat_closing"): IN_AN_HOUR})
    assert yard.one().state == "seen"


def test_of_no_use_when_first_heard_of_is_missed(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON - minutes(90), useless_after=NOON - minutes(1)))
    assert yard.one().state == "missed"


def test_missed_and_moved_to_where_it_is_of_use_is_due(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON - minutes(90), useless_after=NOON - minutes(1)))
    yard.keep(wanted(member, NOON + minutes(5)))
    assert yard.one().state == "due"


def test_an_alarm_that_is_being_delivered_stays_with_its_holder(yard: Yard) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    yard.change(state="claimed", claimed_by="a", attempts=1)
    yard.keep(wanted(member, NOON + minutes(0.5)))
    assert (yard.one().state, yard.one().claimed_by) == ("claimed", "a")
    yard.keep(wanted(member, NOON + minutes(30)))
    assert (yard.one().state, yard.one().claimed_by) == ("due", None)


def test_hundreds_of_alarms_are_kept_in_a_moment(yard: Yard) -> None:
    member = yard.member()
    many = [wanted(member, NOON + minutes(number), alarm=f"coat{number}") for number in range(600)]
    yard.keep(*many)
    moved = [
        wanted(member, NOON + minutes(number + 2), alarm=f"coat{number}") for number in range(600)
    ]
    statements = _count_statements(lambda: yard.keep(*moved))
    assert len(yard.alarms()) == 600
    assert statements < 12, "a row at a time would take hundreds"


def _count_statements(act: Callable[[], object]) -> int:
    seen: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        seen.append(statement)

    event.listen(db.engine, "before_cursor_execute", note)
    try:
        act()
    finally:
        event.remove(db.engine, "before_cursor_execute", note)
    return len(seen)


def _told(yard: Yard, for_at: datetime = NOON) -> None:
    yard.change(state="told", told_at=NOON, outcome={"told_for": for_at.isoformat()})


NAMES = st.sampled_from(["a", "b", "c"])
OFFSET_MIN = st.integers(-120, 120)
WANT = st.tuples(NAMES, OFFSET_MIN, st.integers(0, 120))
ROUND = st.tuples(
    st.lists(WANT, max_size=4),
    st.dictionaries(NAMES, OFFSET_MIN, max_size=2),
    st.sampled_from(["nothing", "told", "claimed"]),
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(ROUND, min_size=1, max_size=5))
def test_any_history_of_wants_leaves_one_row_for_each_id_in_the_right_state(
    inside: None, rounds: list[tuple[list[tuple[str, int, int]], dict[str, int], str]]
) -> None:
    yard = Yard()
    member = yard.member(devices=0)
    ever: set[str] = set()
    seen: dict[tuple[str, str], datetime] = {}
    for number, (wants, looked_at, between) in enumerate(rounds):
        now = NOON + minutes(number)
        asked = _earliest(member, wants)
        for name, offset in looked_at.items():
            key, at = (member, f"{name}.recoat_closing"), NOON + minutes(offset)
            seen[key] = max(at, seen.get(key, at))
        left = {row.alarm_id for row in yard.alarms() if _is_left_to_the_sweep(row, now)}
        yard.keep(*asked.values(), now=now, seen=seen)
        ever |= asked.keys()
        rows = yard.alarms()
        assert sorted(row.alarm_id for row in rows) == sorted(ever)
        for row in rows:
            key = (member, row.alarm_id)
            _check(row, asked.get(row.alarm_id), seen.get(key), now, row.alarm_id in left)
        _between(yard, between)


def _earliest(member: str, wants: list[tuple[str, int, int]]) -> dict[str, Wanted]:
    asked: dict[str, Wanted] = {}
    for name, offset, useful in sorted(wants, key=lambda want: -want[1]):
        due_at = NOON + minutes(offset)
        one = wanted(member, due_at, alarm=name, useless_after=due_at + minutes(useful))
        asked[one.alarm_id] = one
    return asked


def _is_left_to_the_sweep(row: Alarm, now: datetime) -> bool:
    """Say whether a row waited until it was of no use: its person is told so by others than ``keep``."""
    return row.state in ("due", "claimed") and now > row.useless_after


def _check(
    row: Alarm, one: Wanted | None, seen_at: datetime | None, now: datetime, left: bool
) -> None:
    told_for = row.outcome.get("told_for")
    if one is None:
        assert row.state not in ("due", "claimed") or "withdrawn" in row.params
        return
    assert "withdrawn" not in row.params
    assert row.due_at == one.due_at
    if seen_at is not None and one.due_at <= seen_at + minutes(1):
        assert row.state == "seen"
    elif seen_at is None and told_for is None:
        late = now > one.useless_after
        assert row.state in (("missed",) if late and not left else ("due", "claimed"))
    elif one.due_at > now and (
        told_for is None or one.due_at > datetime.fromisoformat(told_for) + minutes(1)
    ):
        assert row.state in ("due", "claimed"), "what nobody was told of yet is not lost"


def _between(yard: Yard, what: str) -> None:
    """Do what a process would do between two rounds."""
    query = select(Alarm).where(Alarm.refit_id == yard.refit_id, Alarm.state == "due")
    with writing():
        for row in db.session.scalars(query):
            if what == "told":
                row.state, row.outcome = "told", {"told_for": row.due_at.isoformat()}
            elif what == "claimed":
                row.state, row.claimed_by = "claimed", "a"
