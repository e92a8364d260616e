"""Whose rules and marks of alarms a person may write."""

from __future__ import annotations

import pytest

from tests.support.phone import Phone
from tests.support.world import StandingClock

AT = "2026-03-02T08:00:00Z"
ROLES = ("owner", "hand", "viewer")


@pytest.fixture
def crew(owner: Phone) -> dict[str, Phone]:
    phones = {"owner": owner, "hand": owner.crew("hand"), "viewer": owner.crew("viewer")}
    for phone in phones.values():
        phone.sync()
    return phones


def code(phone: Phone) -> str:
    phone.sync()
    (problem,) = phone.refused.values() if phone.refused else ({"type": ":"},)
    phone.refused.clear()
    return str(problem["type"].rsplit(":", 1)[1])


@pytest.mark.parametrize("role", ROLES)
def test_everybody_makes_changes_and_drops_their_own_rules(crew: dict[str, Phone], role: str):
    phone = crew[role]
    id_ = phone.create("ring_rule", {"member_id": phone.member_id, "lead_min": 30})
    assert code(phone) == ""
    phone.set("ring_rule", id_, {"quiet_from": "22:00", "quiet_to": "07:00"})
    assert code(phone) == ""
    phone.drop("ring_rule", id_)
    assert code(phone) == ""


@pytest.mark.parametrize("role", ROLES)
def test_only_the_owner_writes_rules_for_somebody_else(crew: dict[str, Phone], role: str):
    phone, other = crew[role], crew["viewer" if role != "viewer" else "hand"]
    wanted = "" if role == "owner" else "not-allowed"
    phone.create("ring_rule", {"member_id": other.member_id, "off": True})
    assert code(phone) == wanted
    theirs = other.create("ring_rule", {"member_id": other.member_id, "off": False})
    assert code(other) == ""
    phone.sync()
    phone.set("ring_rule", theirs, {"off": True})
    assert code(phone) == wanted


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_a_rule_cannot_be_given_to_somebody_else(crew: dict[str, Phone], role: str):
    phone = crew[role]
    id_ = phone.create("ring_rule", {"member_id": phone.member_id})
    phone.sync()
    phone.set("ring_rule", id_, {"member_id": crew["owner"].member_id})
    assert code(phone) == "not-allowed"


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_a_difference_on_an_own_rule_is_settled_by_its_person(
    crew: dict[str, Phone], role: str, clock: StandingClock
):
    phone = crew[role]
    id_ = phone.create("ring_rule", {"member_id": phone.member_id})
    phone.sync(), crew["owner"].sync()
    phone.set("ring_rule", id_, {"lead_min": 10})
    crew["owner"].set("ring_rule", id_, {"lead_min": 20})
    phone.sync(), crew["owner"].sync(), phone.sync()
    (difference,) = phone.open_differences()
    seen = {"lead_min": phone.item(id_).stamp("lead_min")}
    change = {"do": "set", "kind": "ring_rule", "id": id_, "fields": {"lead_min": 10}, "seen": seen}
    phone.act("settle", {"do": "settle", "differences": [difference.id]}, change)
    assert code(phone) == ""
    assert phone.open_differences() == []


def test_who_looks_on_may_see_and_put_off_but_not_end_an_alarm(crew: dict[str, Phone]):
    seen = {"alarm_id": "a.recoat_open", "seen_at": AT}
    snoozed = {"alarm_id": "a.recoat_open", "snoozed_at": AT, "until_at": AT}
    handled = {"alarm_id": "a.recoat_open", "handled_at": AT}
    for kind, body, viewer_may in (
        ("seen", seen, True),
        ("snoozed", snoozed, True),
        ("handled", handled, False),
    ):
        crew["viewer"].record(kind, body)
        assert code(crew["viewer"]) == ("" if viewer_may else "not-allowed")
        crew["hand"].record(kind, body)
        assert code(crew["hand"]) == ""


@pytest.mark.parametrize(
    ("field", "value"),
    [("quiet_from", "7 pm"), ("kind", "doorbell"), ("lead_min", -1), ("unseen_min", "soon")],
)
def test_a_rule_that_makes_no_sense_is_refused_with_its_field(
    owner: Phone, field: str, value: object
):
    owner.sync()
    owner.create("ring_rule", {"member_id": owner.member_id, field: value})
    owner.sync()
    (problem,) = owner.refused.values()
    assert problem["field"].endswith(f"fields.{field}")
