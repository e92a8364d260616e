"""Places alone: the short way, against instances whose answer is known by how they were made."""

from itertools import count

import pytest
from tools.bench.plan_packings import contradiction, packing, packing_with_gaps

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, InfeasibleError, solve
from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.packing.short import least_span, short_way
from tackwatch.plan.model import Grid, Link, Place, Plan, Project, Step, Use
from tests.support.random_refits import random_project


def plan_of(project: Project, rounds: int = 5) -> Plan:
    ticks = count()
    plan = solve(project, Budget(1e6, rounds=rounds), clock=lambda: float(next(ticks)))
    assert check(project, plan) == ()
    return plan


@pytest.mark.parametrize("seed", range(4))
def test_a_packing_of_thirty_is_proved_the_best(seed):
    plan = plan_of(packing(seed, 30, 1.8, 0.5, 0.7))
    assert plan.late_bound == plan.score.late


@pytest.mark.parametrize("seed", range(3))
def test_largest_gaps_come_down_to_the_span_that_fills_a_place_without_a_hole(seed):
    project, span = packing_with_gaps(seed, 20)
    plan = plan_of(project)
    assert plan.score.late == span == plan.late_bound


@pytest.mark.parametrize("by_places", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_what_contradicts_itself_is_told_as_proved(seed, by_places):
    with pytest.raises(InfeasibleError) as told:
        plan_of(contradiction(seed, 20, by_places))
    assert told.value.proved


def test_a_refit_does_not_take_the_short_way():
    assert short_way(to_arrays(random_project(1, 20, 3))) is None


def test_a_step_that_may_wait_until_afloat_does_not_count_for_the_span():
    steps = (
        Step("must", 3, crew=0, uses=(Use("slip", 1),)),
        Step("may", 9, crew=0, uses=(Use("slip", 1),), by_launch=False),
    )
    project = Project(Grid(0.0, 900, 20), 0, steps, places=(Place("slip", 1),))
    assert plan_of(project).score.late == 3


def test_the_least_span_counts_work_at_a_place_behind_heads_and_tails():
    steps = (
        Step("first", 4, crew=0),
        *(Step(f"s{i}", 3, crew=0, uses=(Use("slip", 1),)) for i in range(3)),
        Step("last", 5, crew=0),
    )
    links = (
        *(Link("first", f"s{i}") for i in range(3)),
        *(Link(f"s{i}", "last") for i in range(3)),
    )
    project = Project(Grid(0.0, 900, 40), 0, steps, links, places=(Place("slip", 1),))
    assert least_span(short_way(to_arrays(project))) == 4 + 9 + 5
    assert plan_of(project).score.late == 18
