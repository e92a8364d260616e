"""What the engine promises of any refit: better is better, more people and more time do no harm, proofs are proofs."""

from dataclasses import replace
from itertools import count, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.plan.check import check, score
from tackwatch.plan.engine import Budget, solve
from tackwatch.plan.model import Grid, Link, Person, Placed, Plan, Project, Step, Told, Window
from tests.support.random_refits import random_project

SEEDS = st.integers(0, 10_000)


def plan_of(project: Project, rounds: int = 2, seed: int = 0, hint: Plan | None = None) -> Plan:
    ticks = count()
    budget = Budget(1e9, seed=seed, rounds=rounds)
    plan = solve(project, budget, clock=lambda: float(next(ticks)), hint=hint)
    assert check(project, plan) == ()
    return plan


@settings(max_examples=12, deadline=None)
@given(seed=SEEDS, told=st.booleans(), under_way=st.booleans())
def test_every_plan_passes_the_checker(seed, told, under_way):
    plan_of(random_project(seed, 40, 3, told=told, under_way=under_way, launch_share=0.6))


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS)
def test_every_better_plan_on_the_way_passes_the_checker_and_is_better(seed):
    project = random_project(seed, 40, 3, launch_share=0.5)
    told: list[Plan] = []
    ticks = count()
    last = solve(
        project,
        Budget(1e9, seed=seed, rounds=4),
        clock=lambda: float(next(ticks)),
        on_better=told.append,
    )
    assert all(check(project, plan) == () for plan in told)
    scores = [plan.score for plan in told]
    assert scores == sorted(scores, reverse=True)
    assert last.score <= scores[-1]


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS, later=st.integers(1, 500))
def test_a_later_launch_never_makes_the_plan_in_hand_worse(seed, later):
    project = random_project(seed, 40, 3, launch_share=0.5)
    plan = plan_of(project)
    relaxed = replace(project, launch=project.launch + later)
    assert plan_of(relaxed, hint=plan).score <= plan.score


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS)
def test_one_more_person_never_makes_the_plan_in_hand_later(seed):
    project = random_project(seed, 40, 3, launch_share=0.5)
    plan = plan_of(project)
    helper = Person("helper", project.people[0].open)
    steps = tuple(
        replace(one, able=(*one.able, "helper")) if one.crew else one for one in project.steps
    )
    helped = replace(project, people=(*project.people, helper), steps=steps)
    assert plan_of(helped, hint=plan).score.late <= plan.score.late


# --- against all plans there are --------------------------------------------------------------------------------------


def tiny(seed: int) -> Project:
    """Draw three steps of two people on two short days, with a window that may be missed."""
    chance = np.random.default_rng(seed)
    ends = np.arange(25, dtype=np.int64)
    ready, wide = int(chance.integers(0, 6)), int(chance.integers(0, 8))
    people = (Person("ann", ((0, 5), (12, 17))), Person("ben", ((1, 6), (12, 18))))
    steps = tuple(
        Step(
            name,
            int(chance.integers(1, 4)),
            able=(("ann",), ("ben",), ("ann", "ben"))[int(chance.integers(0, 3))],
            by_launch=bool(chance.integers(0, 2)),
            wet_in=("hull",) if name == "b" else (),
            dust_in=("hull",) if name == "c" else (),
            told=Told(int(chance.integers(0, 5)), ("ann",)) if chance.random() < 0.4 else None,
        )
        for name in "abc"
    )
    return Project(
        Grid(0.0, 900, 24),
        int(chance.integers(0, 10)),
        steps,
        links=(Link("a", "b", window_id="paint", missed_work=1),),
        people=people,
        windows={"paint": Window(ready=ends + ready, last=ends + ready + wide)},
    )


def all_plans(project: Project):
    """Give every plan there is, sound or not in what is left for the checker to say."""
    window, work = project.windows["paint"], {step.id: step.work for step in project.steps}
    for starts in product(range(18), repeat=3):
        end = starts[0] + work["a"]
        if starts[1] < window.ready[end]:
            continue
        missed = starts[1] > window.last[end]
        for people in product(*(step.able for step in project.steps)):
            yield tuple(
                Placed(
                    step.id,
                    start,
                    start + step.work + (step.id == "b" and missed),
                    (person,),
                    ("a",) if step.id == "b" and missed else (),
                )
                for step, start, person in zip(project.steps, starts, people, strict=True)
            )


def cares(plan: Plan) -> tuple[int, int, int]:
    return plan.score.late, plan.score.missed_work, plan.score.moved


@pytest.mark.parametrize("seed", range(5))
def test_no_plan_at_all_is_better_in_what_is_cared_for_most(seed):
    project = tiny(seed)
    best = min(
        (plan.score.late, plan.score.missed_work, plan.score.moved)
        for placed in all_plans(project)
        if (plan := Plan(placed, score(project, placed))).score is not None
        and _quick(project, placed)
        and check(project, plan) == ()
    )
    assert cares(plan_of(project, rounds=12)) == best


def _quick(project: Project, placed: tuple[Placed, ...]) -> bool:
    """Leave out what plainly breaks hours, before the checker looks."""
    return all(
        any(a <= one.start and one.end <= b for a, b in project.person_of[one.people[0]].open)
        for one in placed
    )
