"""A person's own list of alarms."""

from __future__ import annotations

from datetime import timedelta

from tackwatch.work import ring
from tackwatch.work.my_alarms import my_alarms
from tests.alarms.yard import NOON, Yard, minutes, wanted


def test_a_person_sees_their_own_alarms_in_order(yard: Yard) -> None:
    mine, other = yard.member(), yard.member()
    yard.keep(
        wanted(mine, NOON + minutes(9), alarm="late"),
        wanted(mine, NOON - minutes(9), alarm="early"),
        wanted(other, NOON, alarm="other"),
    )
    listed = my_alarms(yard.refit_id, mine, NOON)
    assert [(one.source_id, one.state) for one in listed] == [("early", "due"), ("late", "due")]
    assert listed[0].params["zone"] == "Port hull"
    assert my_alarms(Yard().refit_id, mine, NOON) == []


def test_an_alarm_that_is_being_delivered_is_due_to_its_person(yard: Yard) -> None:
    mine = yard.member()
    yard.keep(wanted(mine, NOON))
    ring.claim("a", NOON, timedelta(seconds=45), 9)
    assert [one.state for one in my_alarms(yard.refit_id, mine, NOON)] == ["due"]


def test_withdrawn_alarms_and_those_of_last_week_are_left_out(yard: Yard) -> None:
    mine = yard.member()
    yard.keep(wanted(mine, NOON, alarm="gone"))
    yard.keep(wanted(mine, NOON - timedelta(days=8), alarm="old"))
    assert yard.states() == {"gone.recoat_closing": "withdrawn", "old.recoat_closing": "missed"}
    assert my_alarms(yard.refit_id, mine, NOON) == []
