"""What is said that no plan is less late than: against all plans there are, and a published example."""

from itertools import count, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.plan.engine import Budget, solve
from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.bounds import least_lateness
from tackwatch.plan.model import Grid, Link, Person, Plan, Project, Step, Window
from tests.support.random_refits import random_project

SEEDS = st.integers(0, 10_000)


def plan_of(project: Project, seed: int = 0, rounds: int = 2) -> Plan:
    ticks = count()
    return solve(project, Budget(1e9, seed=seed, rounds=rounds), clock=lambda: float(next(ticks)))


@settings(max_examples=10, deadline=None)
@given(seed=SEEDS)
def test_no_plan_is_less_late_than_the_bound(seed):
    project = random_project(seed, 30, 3, launch_share=0.2)
    plan = plan_of(project, seed=seed)
    assert plan.late_bound is not None
    assert 0 < plan.late_bound <= plan.score.late


def test_the_bound_of_a_chain_counts_nights_and_cures():
    ends = np.arange(4 * 96 + 1, dtype=np.int64)
    days = tuple((96 * day, 96 * day + 8) for day in range(4))
    project = Project(
        Grid(0.0, 900, 4 * 96),
        0,
        (Step("one", 6, able=("ann",)), Step("two", 6, able=("ann",))),
        links=(Link("one", "two", window_id="paint"),),
        people=(Person("ann", days),),
        windows={"paint": Window(ready=ends + 91)},
    )
    # Ready in the second day's second slot, in which there are seven left: enough.
    assert least_lateness(to_arrays(project)) == 97 + 6
    assert plan_of(project).score.late == 97 + 6


def test_the_bound_of_a_group_counts_what_only_they_can_do():
    days = tuple((96 * day, 96 * day + 8) for day in range(4))
    steps = (*(Step(f"s{i}", 8, able=("ann",)) for i in range(3)), Step("t", 1, able=("ben",)))
    project = Project(
        Grid(0.0, 900, 4 * 96), 0, steps, people=(Person("ann", days), Person("ben", days))
    )
    assert least_lateness(to_arrays(project)) == 2 * 96 + 8


# Heads, bodies and tails of seven jobs on one machine; the least end is 50, and what the bodies come to between the
# earliest heads and the shortest tails is 49 (Carlier 1982, from memory; both are reckoned again here).
CARLIER = tuple(
    zip((10, 13, 11, 20, 30, 0, 30), (5, 6, 7, 4, 3, 6, 2), (7, 26, 24, 21, 8, 17, 0), strict=True)
)


def one_machine() -> Project:
    """Make the example a project of one person, whose tails are steps that nobody has to do."""
    steps, links = [], []
    for i, (head, body, tail) in enumerate(CARLIER):
        steps.append(Step(f"job{i}", body, able=("ann",), earliest=head))
        steps.append(Step(f"tail{i}", tail, crew=0))
        links.append(Link(f"job{i}", f"tail{i}"))
    return Project(
        Grid(0.0, 900, 100), 0, tuple(steps), tuple(links), people=(Person("ann", ((0, 100),)),)
    )


def least_end() -> int:
    def end(order: tuple[tuple[int, int, int], ...]) -> int:
        at = last = 0
        for head, body, tail in order:
            at = max(at, head) + body
            last = max(last, at + tail)
        return last

    return min(end(order) for order in permutations(CARLIER))


def test_heads_and_tails_refute_all_but_the_last_slot_of_a_published_example() -> None:
    a = to_arrays(one_machine())
    assert (least_end(), least_lateness(a, 60)) == (50, 49)
    assert least_lateness(a) < 49, "from one side alone"
    plan = plan_of(one_machine(), rounds=6)
    assert (plan.score.late, plan.late_bound) == (50, 50)


def two_people(seed: int) -> Project:
    """Draw three steps of two people on two short days, two of them with a cure and work after it."""
    chance = np.random.default_rng(seed)
    ends = np.arange(41, dtype=np.int64)
    able = (("ann",), ("ben",), ("ann", "ben"))
    people = (
        Person("ann", ((0, 5), (12, 17), (24, 40))),
        Person("ben", ((1, 6), (12, 18), (24, 40))),
    )

    def step(id_: str, most: int, latest: int) -> Step:
        work, earliest = int(chance.integers(1, most)), int(chance.integers(0, latest))
        return Step(id_, work, able=able[int(chance.integers(0, 3))], earliest=earliest)

    first = [step(f"s{i}", 4, 3) for i in range(3)]
    after = [step(f"t{i}", 3, 1) for i in range(2)]
    links = (
        Link("s0", "t0", window_id="paint"),
        Link("s1", "t1", min_gap=int(chance.integers(0, 4))),
    )
    windows = {"paint": Window(ready=ends + int(chance.integers(0, 8)))}
    return Project(Grid(0.0, 900, 40), 0, (*first, *after), links, people, windows=windows)


def least_late(project: Project) -> int:
    """Try every order of the steps with every choice of people, each step as soon as may be."""
    best = project.grid.slots
    into = {link.after: link for link in project.links}
    for order in permutations(project.steps):
        for people in product(*(step.able for step in order)):
            ends: dict[str, int] = {}
            busy: dict[str, set[int]] = {"ann": set(), "ben": set()}
            for step, person in zip(order, people, strict=True):
                at = step.earliest
                if (link := into.get(step.id)) is not None:
                    if link.before not in ends:
                        break
                    end = ends[link.before] + link.min_gap
                    at = max(
                        at, int(project.windows["paint"].ready[end]) if link.window_id else end
                    )
                spans = project.person_of[person].open
                while not (
                    any(a <= at and at + step.work <= b for a, b in spans)
                    and busy[person].isdisjoint(range(at, at + step.work))
                ):
                    at += 1
                busy[person] |= set(range(at, at + step.work))
                ends[step.id] = at + step.work
            else:
                best = min(best, max(ends.values()))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_no_order_of_the_steps_ends_before_the_bound(seed: int) -> None:
    project = two_people(seed)
    a, best = to_arrays(project), least_late(project)
    assert least_lateness(a) <= least_lateness(a, project.grid.slots) <= best


def test_most_bounds_of_small_projects_are_what_can_be_done() -> None:
    exact = 0
    for seed in range(25):
        project = two_people(seed)
        exact += least_lateness(to_arrays(project), 40) == least_late(project)
    assert exact > 18
