"""The proposals of a plan, and their reasons in the refit's own terms."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tackwatch.plan.build import Built, build
from tackwatch.plan.check import check, score
from tackwatch.plan.facts import Facts, RefitStep, ToldPiece
from tackwatch.plan.model import Placed, Plan
from tackwatch.trade.warnings import iso_of
from tackwatch.work.planning import proposals
from tackwatch.work.planning.proposals import cannot_of, proposals_of, why_of
from tests.plan.small_refit import BEN, COAT, NEXT, NOW_AT, SAND, WET, facts, hours_ago, laid


def told(id_: str, start_h: float) -> RefitStep:
    """Give two hours of Ben's work that were told for so many hours from now."""
    start_at = NOW_AT + timedelta(hours=start_h)
    piece = ToldPiece(start_at, start_at + timedelta(hours=2), ("ben",))
    return replace(SAND, id=id_, zone_id=None, told=(piece,), assignees=("ben",))


def of(built: Built, **starts: int) -> Plan:
    """Give a plan of two hours each, all Ben's."""
    placed = tuple(Placed(id_, at, at + 8, ("ben",)) for id_, at in starts.items())
    plan = Plan(placed, score(built.project, placed))
    assert check(built.project, plan) == ()
    return plan


def upset() -> Facts:
    """Give a refit in which the first of two waits for a part until the second was told to begin."""
    part = {"held": True, "expected_at": NOW_AT + timedelta(hours=2)}
    return facts(replace(told("one", 0), **part), told("two", 2), members=(BEN,))


def test_both_repairs_stand_beside_the_fresh_plan():
    built = build(upset())
    found = proposals_of(built, of(built, one=16, two=0))
    starts = {one.id: [step.start for step in one.plan.placed] for one in found}
    # Best is what keeps the second's time; the order would have the first before it.
    assert starts == {"fresh": [16, 8], "keeps_order": [8, 0]}


def test_a_search_that_found_less_than_a_repair_gives_way():
    built = build(upset())
    poor = of(built, one=96, two=300)
    assert proposals_of(built, poor)[0].plan.score < poor.score


def test_a_plan_that_is_there_already_is_not_told_twice():
    built = build(facts(told("one", 0), told("two", 2), members=(BEN,)))
    assert [one.id for one in proposals_of(built, of(built, one=0, two=8))] == ["fresh"]


def test_a_repair_that_breaks_a_rule_is_not_told(monkeypatch):
    built = build(upset())
    broken = replace(of(built, one=16, two=0), placed=(Placed("one", 0, 8), Placed("two", 0, 8)))
    monkeypatch.setattr(proposals, "REPAIRS", {"keeps_times": lambda _: broken})
    assert [one.id for one in proposals_of(built, of(built, one=16, two=0))] == ["fresh"]


def test_what_lies_already_is_told_as_a_cure_of_its_step():
    coat = laid(COAT, hours_ago(2), hours_ago(1))
    built = build(facts(coat, NEXT, links=(WET,)))
    opens = next(one.min_gap for one in built.project.links if one.after == "next")
    placed = (Placed("coat", 0, 0), Placed("next", opens, opens + 16, ("ana",)))
    assert check(built.project, Plan(placed, score(built.project, placed))) == ()
    assert why_of(built, placed) == {
        "next": {
            "code": "cure",
            "params": {"step_id": "coat", "until_at": iso_of(built.clock.at(opens))},
        }
    }


def test_a_part_is_told_with_when_it_is_expected_and_a_person_with_what_they_do():
    built = build(upset())
    why = why_of(built, of(built, one=8, two=0).placed)
    assert why["one"]["code"] == "part"
    assert why["one"]["params"]["expected_at"] == iso_of(NOW_AT + timedelta(hours=2))
    after = why_of(built, of(built, one=16, two=8).placed)["one"]
    assert after["code"] == "person"
    assert after["params"] == {
        "step_id": "two", "member_id": "ben", "until_at": iso_of(NOW_AT + timedelta(hours=4)),
    }  # fmt: skip


def test_what_it_would_take_is_told_with_days_and_instants_as_texts():
    refit = replace(upset(), launch_at=NOW_AT + timedelta(hours=3))
    built = build(replace(refit, steps=refit.steps[:1]))
    found = cannot_of(built, of(built, one=8), lambda: False)
    by_code = {one["code"]: one for one in found}
    assert [*by_code] == ["late_part", "mark_afloat", "part", "launch"]
    assert by_code["late_part"]["buys_on"] is None
    assert by_code["part"]["params"] == {"expected_at": iso_of(NOW_AT + timedelta(hours=2))}
    assert by_code["launch"]["params"] == {"launch_at": iso_of(NOW_AT + timedelta(hours=4))}
    assert by_code["launch"]["buys_on"] == NOW_AT.date().isoformat()
