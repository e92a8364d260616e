"""A refit becomes a project that contradicts itself nowhere, and a plan of it is told in instants."""

from zoneinfo import ZoneInfo

import pytest

from tackwatch.plan.build import build, planned_steps
from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, solve
from tests.support.random_facts import random_facts
from tests.support.random_refits import random_project
from tests.support.simple_plan import simple_plan
from tests.support.sound_project import faults_of


@pytest.mark.parametrize("seed", range(16))
def test_any_refit_becomes_a_project_that_has_a_sound_plan(seed: int) -> None:
    facts = random_facts(seed, 30 + 4 * seed, 3 + seed % 4)
    built = build(facts)
    assert faults_of(built.project) == []
    plan = simple_plan(built.project)
    assert check(built.project, plan) == ()
    told = planned_steps(built, plan.placed)
    assert {one.step_id for one in told} == {
        part.step.id for part in built.parts.values() if part.standing != "done"
    }


@pytest.mark.parametrize("seed", range(6))
def test_a_simple_plan_of_any_project_is_sound(seed: int) -> None:
    project = random_project(seed, 60, 4, told=True, under_way=True)
    assert check(project, simple_plan(project)) == ()


@pytest.mark.parametrize("seed", range(8))
def test_nobody_is_planned_outside_their_hours_by_the_clock_on_the_wall(seed: int) -> None:
    facts = random_facts(seed)
    built = build(facts)
    members = {one.id: one for one in facts.members}
    laying = {id_ for id_, part in built.parts.items() if part.standing == "laying"}
    for step in planned_steps(built, simple_plan(built.project).placed):
        for piece in step.pieces:
            for id_ in piece.member_ids:
                if step.step_id in laying:
                    continue
                zone = ZoneInfo(facts.time_zone)
                start, end = piece.start_at.astimezone(zone), piece.end_at.astimezone(zone)
                assert start.date() == end.date()
                assert members[id_].day_starts <= start.time() < end.time() <= members[id_].day_ends
                assert start.isoweekday() in members[id_].work_days
                off = (*members[id_].away, *facts.closed)
                assert not any(one.from_on <= start.date() <= one.to_on for one in off)
        assert step.start_at >= facts.now_at or step.step_id in laying


@pytest.mark.parametrize("seed", range(6))
def test_the_engine_finds_a_sound_plan_of_any_refit(seed: int) -> None:
    built = build(random_facts(seed, 40, 4))
    budget = Budget(30.0, workers=1, rounds=3)
    plan = solve(built.project, budget, clock=lambda: 0.0)
    assert check(built.project, plan) == ()
