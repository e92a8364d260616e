"""The random refits on which the planner is tried are such that there is something to plan."""

import pytest

from tests.support.random_refits import DAY, PEOPLE_OF, random_project
from tests.support.sound_project import faults_of


@pytest.mark.parametrize("seed", range(12))
def test_a_random_refit_contradicts_itself_nowhere(seed: int) -> None:
    project = random_project(seed, 60 + 20 * seed, told=seed % 2 == 0, under_way=seed % 3 == 0)
    assert faults_of(project) == []


@pytest.mark.parametrize("steps_n", sorted(PEOPLE_OF))
def test_the_sizes_are_those_that_were_asked_for(steps_n: int) -> None:
    project = random_project(1, steps_n, told=True, under_way=True)
    assert (len(project.steps), len(project.people)) == (steps_n, PEOPLE_OF[steps_n])
    assert sum(step.fixed is not None for step in project.steps) > 2
    assert all((step.told is None) == (step.fixed is not None) for step in project.steps)
    assert sum(link.missed_work is not None for link in project.links) > steps_n // 10


def test_one_seed_gives_one_refit() -> None:
    one, same, other = (random_project(seed, 90, told=True) for seed in (3, 3, 4))
    assert one.steps == same.steps
    assert one.links == same.links
    assert one.steps != other.steps


def test_the_same_coat_has_another_window_at_noon_than_at_midnight() -> None:
    window = random_project(5).windows["topcoat"]
    noon, midnight = 16 + DAY, 64 + DAY
    assert window.ready[midnight] - midnight > window.ready[noon] - noon + 4
