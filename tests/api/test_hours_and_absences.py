"""Who works when: hours, working days, skills and absences, as people enter them."""

from __future__ import annotations

import pytest

from tests.support.phone import Phone

AWAY = {"from_on": "2026-04-01", "to_on": "2026-04-03"}


@pytest.fixture
def crew(owner: Phone) -> dict[str, Phone]:
    phones = {"owner": owner, "hand": owner.crew("hand"), "viewer": owner.crew("viewer")}
    for phone in phones.values():
        phone.sync()
    return phones


def refusal(phone: Phone) -> tuple[str, str]:
    """Sync, and give code and field of the one thing that was refused, or nothing."""
    phone.sync()
    (problem,) = phone.refused.values() if phone.refused else ({"type": ":", "field": ""},)
    phone.refused.clear()
    return str(problem["type"].rsplit(":", 1)[1]), str(problem.get("field", ""))


def test_a_hand_enters_changes_and_takes_back_the_own_absence(crew: dict[str, Phone]):
    hand = crew["hand"]
    id_ = hand.create("away", {**AWAY, "member_id": hand.member_id, "text": "dentist"})
    assert refusal(hand) == ("", "")
    hand.set("away", id_, {"to_on": "2026-04-02"})
    assert refusal(hand) == ("", "")
    hand.drop("away", id_)
    assert refusal(hand) == ("", "")
    assert hand.item(id_).gone


def test_two_who_change_one_absence_unseen_are_asked_and_the_hand_settles_it(
    crew: dict[str, Phone],
):
    hand, owner = crew["hand"], crew["owner"]
    id_ = hand.create("away", {**AWAY, "member_id": hand.member_id})
    hand.sync(), owner.sync()
    hand.set("away", id_, {"to_on": "2026-04-05"})
    owner.set("away", id_, {"to_on": "2026-04-02"})
    hand.sync(), owner.sync(), hand.sync()
    (difference,) = hand.open_differences()
    hand.act("settle", {"do": "settle", "differences": [difference.id]})
    assert refusal(hand) == ("", "")
    assert hand.open_differences() == []


@pytest.mark.parametrize(
    ("kind", "fields", "at_fault"),
    [
        ("away", {"from_on": "2026-04-03", "to_on": "2026-04-01"}, "fields.to_on"),
        ("away", {"from_on": "2026-04-31", "to_on": "2026-05-01"}, "fields.from_on"),
        ("away", {"from_on": "2026-04-01"}, "fields.to_on"),
        ("away", {**AWAY, "member_id": "nobody"}, "fields.member_id"),
        ("skill", {"name": " "}, "fields.name"),
        ("zone", {"name": "Bilge", "holds": 0}, "fields.holds"),
        ("zone", {"name": "Bilge", "holds": 1.5}, "fields.holds"),
    ],
)
def test_what_makes_no_sense_is_refused_with_its_field(
    owner: Phone, kind: str, fields: dict[str, object], at_fault: str
):
    owner.sync()
    owner.create(kind, fields)
    assert refusal(owner)[1].endswith(at_fault)


@pytest.mark.parametrize("days", ["54321", "1123", "8", "0", "Mon", "1,2", 12345, ["1"]])
def test_working_days_that_make_no_sense_are_refused(owner: Phone, days: object):
    owner.sync()
    owner.set("member", owner.member_id, {"work_days": days})
    assert refusal(owner) == ("value-not-valid", "actions[0].fields.work_days")


@pytest.mark.parametrize("days", ["", "1", "12345", "1234567", "67", None])
def test_any_days_of_the_week_may_be_working_days_of_a_person(owner: Phone, days: object):
    owner.sync()
    owner.set("member", owner.member_id, {"work_days": days})
    assert refusal(owner) == ("", "")


def test_a_skill_of_a_step_must_be_one_of_the_refit(owner: Phone):
    owner.sync()
    job = owner.create("job", {"title": "Deck"})
    step = owner.create("step", {"job_id": job, "kind": "laminate"})
    skill = owner.create("skill", {"name": "Glass"})
    put = {"do": "put_in", "kind": "step", "id": step, "set": "skills"}
    owner.act("put_in", {**put, "member": skill})
    assert refusal(owner) == ("", "")
    owner.act("put_in", {**put, "member": owner.member_id})
    assert refusal(owner) == ("unknown-id", "actions[0].member")
    assert set(owner.item(step).sets["skills"]) == {skill}
