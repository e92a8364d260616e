"""Networks from textbooks through the model, the engine and the checker; sources stand beside the networks."""

from dataclasses import replace
from statistics import NormalDist

import pytest

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, solve
from tackwatch.plan.model import Person, Plan, Project
from tests.support.textbook_networks import FOUNDRY, HOUSE, Network

BOTH = pytest.mark.parametrize("network", [HOUSE, FOUNDRY], ids=["house", "foundry"])


def planned(project: Project) -> Plan:
    return solve(project, Budget(20.0, workers=1, rounds=3), clock=lambda: 0.0)


@BOTH
def test_a_network_takes_the_weeks_that_hillier_and_render_print(network: Network) -> None:
    project = network.project()
    plan = planned(project)
    assert check(project, plan) == ()
    assert plan.score.late == network.weeks


@BOTH
def test_the_critical_path_of_hillier_and_render_has_no_room(network: Network) -> None:
    """A week more on any critical activity, and on no other of those that have room, makes it later."""
    project = network.project()
    for step in project.steps:
        longer = tuple(replace(one, work=one.work + (one is step)) for one in project.steps)
        grid = replace(project.grid, slots=project.grid.slots + 1)
        later = planned(replace(project, steps=longer, grid=grid)).score.late - network.weeks
        assert later == (step.id in network.critical), step.id


@BOTH
def test_means_variance_and_chance_are_those_that_hillier_and_render_print(
    network: Network,
) -> None:
    """Holds the examples themselves to their books before the forecast is held to them."""
    assert sum(network.mean(name) for name in network.critical) == pytest.approx(network.weeks)
    variance = sum(network.variance_of(name) for name in network.critical)
    assert variance == pytest.approx(network.variance, abs=0.01)
    chance = NormalDist(network.weeks, variance**0.5).cdf(network.asked_weeks)
    assert chance == pytest.approx(network.p_by_then, abs=0.003)


def test_one_pair_of_hands_takes_the_sum_of_all_weeks() -> None:
    project = HOUSE.project()
    weeks = sum(step.work for step in project.steps)
    steps = tuple(replace(step, crew=1, able=("ana",)) for step in project.steps)
    alone = replace(project, steps=steps, people=(Person("ana", ((0, weeks),)),))
    plan = planned(alone)
    assert check(alone, plan) == ()
    assert plan.score.late == weeks == 79
