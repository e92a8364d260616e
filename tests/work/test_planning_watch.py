"""When a plan is made without anybody asking, and when not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask

from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.planner import glance, plan_all
from tests.support.world import StandingClock


@pytest.fixture
def yard(app: Flask, owner: Phone) -> PlanYard:
    """A refit whose plan was given to the crew."""
    made = plan_yard(owner)
    plan_id = made.ask()
    plan_all(app)
    assert made.publish(plan_id).status == 200
    made.owner.sync(), made.hand.sync()
    return made


def rest(app: Flask, clock: StandingClock, **much: float) -> int:
    """See what changed, let it rest for a minute, and give how many plans are asked for."""
    glance(app)
    clock.forward(**(much or {"seconds": 61}))
    return glance(app)


def newest(yard: PlanYard) -> Any:
    return yard.owner.call("GET", "/plans").json["plans"][0]


def iso(clock: StandingClock, **off: float) -> str:
    return (clock.at + timedelta(**off)).isoformat().replace("+00:00", "Z")


def found_job(yard: PlanYard, clock: StandingClock) -> None:
    job = yard.hand.create("job", {"title": "Soft core", "found_while": yard.ids["job"]})
    yard.hand.create("step", {"job_id": job, "kind": "dry_out", "labour_h": 4})


def estimate(yard: PlanYard, clock: StandingClock) -> None:
    yard.hand.set("step", yard.ids["sand"], {"labour_h": 12})


def by_hand(yard: PlanYard, clock: StandingClock) -> None:
    yard.hand.set("step", yard.ids["fit"], {"planned_start_at": iso(clock, days=3)})


def away(yard: PlanYard, clock: StandingClock) -> None:
    days = {"from_on": "2026-03-03", "to_on": "2026-03-05"}
    yard.hand.create("away", {**days, "member_id": yard.hand.member_id})


def shut(yard: PlanYard, clock: StandingClock) -> None:
    yard.owner.create("away", {"from_on": "2026-03-03", "to_on": "2026-03-03"})


def launch(yard: PlanYard, clock: StandingClock) -> None:
    yard.owner.set("refit", yard.owner.refit_id, {"launch_at": "2026-03-25T08:00:00Z"})


def heat(yard: PlanYard, clock: StandingClock) -> None:
    for hours in range(0, 24, 2):
        taken = {"taken_at": iso(clock, hours=-hours), "air_c": 33, "surface_c": 34}
        yard.hand.record("reading", taken)


def skill(yard: PlanYard, clock: StandingClock) -> None:
    put = {"do": "put_in", "kind": "member", "id": yard.owner.member_id, "set": "skills"}
    yard.owner.act("put_in", {**put, "member": yard.ids["skill"]})


def nothing(yard: PlanYard, clock: StandingClock) -> None:
    """Nothing at all."""


def note(yard: PlanYard, clock: StandingClock) -> None:
    yard.hand.record("note", {"text": "windy"})


def title(yard: PlanYard, clock: StandingClock) -> None:
    yard.hand.set("step", yard.ids["sand"], {"title": "Sand with 80 grit"})


def begun(yard: PlanYard, clock: StandingClock) -> None:
    mark = {"step_id": yard.ids["sand"], "mark": "started", "marked_at": iso(clock)}
    yard.hand.record("mark", mark)


def mild(yard: PlanYard, clock: StandingClock) -> None:
    yard.hand.record("reading", {"taken_at": iso(clock), "air_c": 11.5})


Deed = Callable[[PlanYard, StandingClock], None]


@pytest.mark.parametrize(
    ("deed", "why"),
    [
        (found_job, ["found_job"]),
        (estimate, ["fields"]),
        (by_hand, ["fields"]),
        (skill, ["fields"]),
        (away, ["away"]),
        (shut, ["away"]),
        (launch, ["launch"]),
        (heat, ["reading"]),
    ],
)
def test_what_matters_makes_a_plan_anew(
    app: Flask, yard: PlanYard, clock: StandingClock, deed: Deed, why: list[str]
):
    deed(yard, clock)
    assert yard.hand.sync()["refused"] == []
    assert yard.owner.sync()["refused"] == []
    assert rest(app, clock) == 1
    plan = newest(yard)
    assert (plan["state"], plan["why"], plan["asked_by"]) == ("asked", why, None)
    assert plan_all(app) == 1
    assert newest(yard)["state"] == "ready"
    assert rest(app, clock) == 0


@pytest.mark.parametrize("deed", [nothing, note, title, begun, mild])
def test_what_does_not_matter_makes_none(
    app: Flask, yard: PlanYard, clock: StandingClock, deed: Deed
):
    deed(yard, clock)
    yard.hand.sync()
    assert rest(app, clock) == 0
    assert newest(yard)["state"] == "published"


def test_it_waits_until_nothing_changes_any_more(app: Flask, yard: PlanYard, clock: StandingClock):
    estimate(yard, clock)
    yard.hand.sync()
    for n in range(5):
        assert rest(app, clock, seconds=40) == 0
        yard.hand.set("step", yard.ids["fit"], {"labour_h": n + 1})
        yard.hand.sync()
    assert rest(app, clock) == 1


def test_it_does_not_wait_for_ever(app: Flask, yard: PlanYard, clock: StandingClock):
    estimate(yard, clock)
    yard.hand.sync()
    for n in range(14):
        asked = rest(app, clock, seconds=45)
        yard.hand.set("step", yard.ids["fit"], {"labour_h": n + 1})
        yard.hand.sync()
        if asked:
            break
    assert n in (12, 13)  # ten minutes after the first glance


def test_a_step_that_is_late_is_seen_without_any_change(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    assert rest(app, clock) == 0
    sand = yard.step("sand").fields["planned_start_at"]
    clock.at = clock.at.fromisoformat(sand) + timedelta(minutes=29)
    assert glance(app) == 0
    clock.forward(minutes=1)
    assert glance(app) == 1
    assert newest(yard)["why"] == ["step_late"]
    plan_all(app)
    clock.forward(minutes=5)
    assert glance(app) == 0  # it is late still, and was so for the last plan


def test_nobody_plans_for_a_refit_for_which_nobody_asked(
    app: Flask, owner: Phone, clock: StandingClock
):
    plan_yard(owner)
    assert rest(app, clock) == 0
    assert owner.call("GET", "/plans").json == {"plans": []}


def test_what_changed_while_a_plan_was_worked_out_makes_the_next(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    plan_id = yard.ask()
    estimate(yard, clock)
    yard.hand.sync()
    assert rest(app, clock) == 0  # one is asked for already
    plan_all(app)
    assert rest(app, clock) == 0  # and it saw the change
    later = yard.ask()
    assert later != plan_id


def test_a_plan_that_was_called_off_is_not_made_again_for_the_same_reason(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    estimate(yard, clock)
    yard.hand.sync()
    assert rest(app, clock) == 1
    plan_id = newest(yard)["plan_id"]
    assert yard.owner.call("POST", f"/plans/{plan_id}/cancel").status == 200
    assert rest(app, clock) == 0


def test_the_plan_before_is_where_the_next_begins(app: Flask, yard: PlanYard, clock: StandingClock):
    from tests.support.planner import Here

    estimate(yard, clock)
    yard.hand.sync()
    rest(app, clock)
    solver = Here()
    plan_all(app, solver)
    assert solver.tasks[0].hint.keys() == {yard.ids[n] for n in ("sand", "coat", "coat2", "fit")}
