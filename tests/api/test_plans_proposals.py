"""What is put before the owner: the ways to do the work, why each step stands there, and what it would take."""

from __future__ import annotations

import pytest
from flask import Flask

from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.planner import plan_all


@pytest.fixture
def yard(owner: Phone) -> PlanYard:
    return plan_yard(owner)


def planned(app: Flask, yard: PlanYard):
    plan_id = yard.ask()
    plan_all(app)
    return yard.plan(plan_id)


def why(proposal, step_id: str):
    return next(one["why"] for one in proposal["steps"] if one["step_id"] == step_id)


def test_each_step_says_why_it_stands_there(app: Flask, yard: PlanYard):
    (proposal,) = planned(app, yard)["proposals"]
    assert why(proposal, yard.ids["sand"]) == {"code": "now", "params": {}}
    of_second = why(proposal, yard.ids["coat2"])
    second = next(one for one in proposal["steps"] if one["step_id"] == yard.ids["coat2"])
    assert of_second["code"] == "cure"
    assert of_second["params"]["step_id"] == yard.ids["coat"]
    assert of_second["params"]["until_at"] == second["opens_at"]


def test_nothing_is_told_of_keeping_what_nobody_was_told(app: Flask, yard: PlanYard):
    plan = planned(app, yard)
    assert [one["id"] for one in plan["proposals"]] == ["fresh"]
    assert plan["cannot"] == []


def test_a_launch_that_is_too_soon_is_told_with_what_decides_and_what_it_would_take(
    app: Flask, yard: PlanYard
):
    yard.owner.set("refit", yard.owner.refit_id, {"launch_at": "2026-03-02T11:00:00Z"})
    yard.owner.sync()
    plan = planned(app, yard)
    (fresh,) = plan["proposals"]
    first, *rest = plan["cannot"]
    assert not fresh["launch_made"]
    assert first["code"].startswith("late_")
    assert first["buys_on"] is None
    assert set(first["step_ids"]) <= {yard.ids[name] for name in ("sand", "coat", "coat2")}
    last = rest[-1]
    assert last["code"] == "launch"
    ends = [one["end_at"] for one in fresh["steps"] if one["step_id"] != yard.ids["fit"]]
    assert last["params"] == {"launch_at": max(ends)}
    assert [one["buys_on"] for one in rest] == sorted(one["buys_on"] for one in rest)


def test_a_skill_that_nobody_has_is_told_with_the_day_that_somebody_who_has_it_buys(
    app: Flask, yard: PlanYard
):
    skill = yard.owner.create("skill", {"name": "Rigging"})
    put = {"do": "put_in", "kind": "step", "id": yard.ids["fit"], "set": "skills", "member": skill}
    yard.owner.act("put_in", put)
    yard.owner.sync()
    (one,) = planned(app, yard)["cannot"]
    assert one["params"] == {"n": 1, "skill_id": skill}
    assert one["buys_on"] >= "2026-03-02"


def test_two_repairs_stand_beside_the_fresh_plan_when_what_was_told_cannot_be(
    app: Flask, yard: PlanYard
):
    plan_id = yard.ask()
    plan_all(app)
    assert yard.publish(plan_id).status == 200
    yard.owner.sync()
    # Sanding takes two days now, and what hangs on it was told to begin today.
    yard.owner.set("step", yard.ids["sand"], {"labour_h": 16})
    yard.owner.sync()
    plan = planned(app, yard)
    ids = [one["id"] for one in plan["proposals"]]
    assert ids[0] == "fresh"
    assert set(ids) <= {"fresh", "keeps_times", "keeps_order"}
    for one in plan["proposals"]:
        changed = {change["step_id"] for change in one["changes"]}
        assert yard.ids["sand"] in changed
        starts = [change["start_at_after"] for change in one["changes"]]
        assert starts == sorted(starts)
        assert [*one["score"].values()] >= [*plan["proposals"][0]["score"].values()]
