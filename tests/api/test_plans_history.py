"""What stays of a plan that was given to the crew: who did so when, and what it changed."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask

from tackwatch.work import plans
from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.planner import plan_all
from tests.support.tables import dump
from tests.support.world import StandingClock


@pytest.fixture
def yard(owner: Phone) -> PlanYard:
    return plan_yard(owner)


@pytest.fixture
def given(app: Flask, yard: PlanYard, clock: StandingClock) -> str:
    """A plan that was given to the crew, ten minutes after all else."""
    plan_id = yard.ask()
    plan_all(app)
    clock.forward(minutes=10)
    assert yard.publish(plan_id).status == 200
    return plan_id


def history(phone: Phone, kind: str, id_: str, after: str = "") -> list[dict[str, Any]]:
    answer = phone.call("GET", f"/history/{kind}/{id_}?after={after}")
    assert answer.status == 200, answer.content
    return list(answer.json["operations"])


def published(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [one for one in entries if one["act"] == "publish_plan"]


def test_the_history_of_each_step_tells_who_gave_out_which_plan_in_one_line(
    yard: PlanYard, given: str
):
    for name in ("sand", "coat", "coat2", "fit"):
        entries = history(yard.hand, "step", yard.ids[name])
        assert [one["act"] for one in entries] == ["create_step", "publish_plan"]
        line = entries[-1]
        assert (line["member_id"], line["problem"]) == (yard.owner.member_id, None)
        (action,) = line["actions"]
        assert action == {
            "do": "publish", "plan_id": given, "proposal_id": "fresh",
            "steps_n": 4, "starts_n": 4, "people_n": 4,
        }  # fmt: skip
        yard.hand.sync()
        step = yard.step(name, yard.hand)
        assert step.stamp("planned_start_at") <= line["at"]
        assert history(yard.hand, "step", yard.ids[name], line["at"]) == []
    assert published(history(yard.hand, "job", yard.ids["job"])) == []


def test_only_what_a_plan_changed_is_told_of_it(
    app: Flask, yard: PlanYard, given: str, clock: StandingClock
):
    yard.owner.sync()
    yard.owner.set("step", yard.ids["sand"], {"labour_h": 8})
    yard.owner.sync()
    before = {name: yard.step(name) for name in ("sand", "coat", "coat2", "fit")}
    again = yard.ask()
    plan_all(app)
    clock.forward(minutes=10)
    assert yard.publish(again).status == 200
    yard.owner.sync()
    changed = {name for name, step in before.items() if yard.step(name) != step}
    assert changed
    assert changed < before.keys()
    for name in before:
        lines = published(history(yard.owner, "step", yard.ids[name]))
        told = [line["actions"][0]["plan_id"] for line in lines]
        assert told == ([given, again] if name in changed else [given])
    counts = published(history(yard.owner, "refit", yard.owner.refit_id))[-1]["actions"][0]
    assert counts["steps_n"] == len(changed)
    assert counts["starts_n"] == sum(
        before[name].fields["planned_start_at"] != yard.step(name).fields["planned_start_at"]
        for name in changed
    )
    assert counts["people_n"] == sum(
        before[name].sets["assignees"].keys() != yard.step(name).sets["assignees"].keys()
        for name in changed
    )


def test_the_list_of_plans_says_of_how_many_steps_something_changed(yard: PlanYard, given: str):
    asked = yard.ask()
    heads = {one["plan_id"]: one for one in yard.hand.call("GET", "/plans").json["plans"]}
    assert heads[given]["given"] == {"steps_n": 4, "starts_n": 4, "people_n": 4}
    assert heads[given]["published_by"] == yard.owner.member_id
    assert heads[asked]["given"] is None


def test_it_stays_when_the_plan_itself_is_let_go(
    app: Flask, yard: PlanYard, given: str, clock: StandingClock, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(plans, "KEPT", 2)
    for _ in range(2):  # a second one that is published, so that the first is an old one
        newer = yard.ask()
        plan_all(app)
        clock.forward(minutes=1)
    assert yard.publish(newer).status == 200
    for _ in range(3):
        yard.ask()
        plan_all(app)
        clock.forward(minutes=1)
    kept = {row["plan_id"]: row for row in dump(app)["plan"]}
    assert (kept[given]["result"], kept[given]["basis"]) == (None, None)
    assert kept[newer]["result"] is not None
    assert len(kept) == 4
    lines = published(history(yard.owner, "refit", yard.owner.refit_id))
    assert [line["actions"][0]["plan_id"] for line in lines] == [given, newer]
    assert given not in [one["plan_id"] for one in yard.owner.call("GET", "/plans").json["plans"]]
