"""The set of jobs that is moved to after the launch."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from tools.bench.forecast_refits import refit_of

from tackwatch.plan.forecast import FoundWhile, Record, Took, forecast
from tackwatch.plan.forecast.dispatch import play
from tackwatch.plan.forecast.future import Future, quantile
from tackwatch.plan.forecast.moving import GOAL, confirmed, movable, smallest
from tackwatch.plan.forecast.saved import Samples
from tackwatch.plan.model import Grid, Link, Person, Placed, Plan, Project, Score, Step, Told

DAY = 96
QUIET = tuple(FoundWhile(f"none {n}", 0) for n in range(3_000))
STEADY = tuple(Took(f"done {n}", 10.0, 10.0) for n in range(300))


def row_of_jobs(lengths: list[int], links: list[Link] = (), launch: int = 0, begun: str = ""):
    """Make one person's jobs, one a day."""
    steps, placed = [], []
    for n, work in enumerate(lengths):
        name, start = f"s{n}", n * DAY + 32
        fixed = Told(start, ("p0",)) if name == begun else None
        steps.append(Step(name, work, 1, ("p0",), fixed=fixed))
        placed.append(Placed(name, start, start + work, ("p0",)))
    days = tuple((day * DAY + 32, day * DAY + 68) for day in range(40))
    project = Project(
        Grid(0.0, 900, 40 * DAY), launch, tuple(steps), tuple(links), (Person("p0", days),)
    )
    return project, Plan(tuple(placed), Score(0, 0, 0, 0, 0))


def future_of(made, afloat: str, **record) -> Future:
    project, plan = made
    names = frozenset(f"s{n}" for n in map(int, afloat))
    return Future(project, plan, Record(afloat=names, **record))


def test_the_longest_job_is_moved_when_that_is_enough():
    project, plan = row_of_jobs([30, 30, 8, 30], launch=3 * DAY + 20)
    record = Record(afloat=frozenset({"s2", "s3"}), found_while=QUIET, took=STEADY)
    said = forecast(project, plan, record, samples=1_500, seed=1)
    assert said.p_launch < GOAL
    assert said.to_move.job_ids == ("s3",)
    assert said.to_move.p_launch >= GOAL


def test_nothing_is_moved_when_the_launch_is_made_anyway():
    project, plan = row_of_jobs([8, 8], launch=30 * DAY)
    record = Record(afloat=frozenset({"s0"}), found_while=QUIET, took=STEADY)
    said = forecast(project, plan, record, samples=500, seed=1)
    assert said.to_move.job_ids == ()
    assert said.to_move.p_launch == said.p_launch


def test_it_is_said_when_moving_is_not_enough():
    project, plan = row_of_jobs([30, 30, 30, 30], launch=DAY)
    record = Record(afloat=frozenset({"s3"}), found_while=QUIET, took=STEADY)
    said = forecast(project, plan, record, samples=500, seed=1)
    assert "cannot_reach" in said.says
    assert said.to_move.p_launch < GOAL


def test_what_comes_after_a_job_is_moved_with_it():
    links = [Link("s0", "s1"), Link("s1", "s2")]
    future = future_of(row_of_jobs([8, 8, 8], links), "012")
    assert movable(future.jobs, future.record.afloat) == {
        0: frozenset({0, 1, 2}),
        1: frozenset({1, 2}),
        2: frozenset({2}),
    }


def test_a_job_stays_when_something_after_it_must_be_done():
    future = future_of(row_of_jobs([8, 8, 8], [Link("s0", "s2")]), "01")
    assert movable(future.jobs, future.record.afloat) == {1: frozenset({1})}


def test_a_job_that_is_begun_stays():
    future = future_of(row_of_jobs([8, 8, 8], begun="s0"), "012", took=(Took("s1", 2.0, 2.0),))
    assert list(movable(future.jobs, future.record.afloat)) == [2]


def test_what_would_be_found_goes_with_the_job():
    many = tuple(FoundWhile(f"x{n}", 1) for n in range(300))
    future = future_of(row_of_jobs([8, 8, 8], launch=4 * DAY), "012", found_while=many[:100])
    draws = future.draw(300, 1)
    assert draws.trees.root.size > 300
    nothing = play(future.net, draws, dropped=np.array([True, True, True]))
    assert (nothing.end == 0).all()
    of_last = np.zeros(300, dtype=bool)
    of_last[np.repeat(np.arange(300), np.diff(draws.trees.start))[draws.trees.root == 2]] = True
    labour = play(future.net, draws, dropped=np.array([True, True, False]), labour=True).labour
    only_planned = ~of_last & ~draws.trees.endless
    assert (labour.sum(axis=1) == draws.work[:, 2])[only_planned].all()
    assert only_planned.any()
    assert future.samples(300, 1).p(frozenset({0, 1, 2})) == 1.0


@pytest.mark.parametrize("seed", [1, 4, 9])
def test_no_smaller_set_is_enough_by_looking_through_all(seed):
    refit = refit_of(seed, 0.2, 12)
    start = Future(refit.project, refit.plan, refit.record)
    launch = quantile(start.samples(400, seed).ends(frozenset()), 0.55)
    jobs = frozenset(sorted(set(refit.record.job_of.values()))[:7])
    future = Future(
        replace(refit.project, launch=launch), refit.plan, replace(refit.record, afloat=jobs)
    )
    units = movable(future.jobs, future.record.afloat)
    samples = future.samples(400, seed)
    chosen = smallest(samples, units)
    if samples.p(chosen) < GOAL:
        assert samples.p(frozenset(units)) < GOAL
        return
    fair = Samples(samples.net, samples.draws, samples.floor, samples.launch)
    fewer = [
        frozenset(some)
        for some in combinations(sorted(units), len(chosen) - 1)
        if all(units[one] <= frozenset(some) for one in some)
    ]
    assert not any(fair.p(one) >= GOAL for one in fewer)


def test_the_chance_that_is_told_is_from_samples_that_did_not_choose():
    refit = refit_of(2, 0.2, 12)
    jobs = frozenset(refit.record.job_of.values())
    start = Future(refit.project, refit.plan, refit.record)
    launch = quantile(start.samples(400, 1).ends(frozenset()), 0.5)
    future = Future(
        replace(refit.project, launch=launch), refit.plan, replace(refit.record, afloat=jobs)
    )
    units = movable(future.jobs, future.record.afloat)
    chosen, p_launch = confirmed(future.samples(400, 1), units, future.samples(400, 2))
    assert p_launch == future.samples(400, 2).p(chosen)
    assert p_launch >= GOAL


@pytest.mark.parametrize("seed", range(4))
def test_whether_a_set_is_enough_is_what_counting_all_samples_says(seed):
    refit = refit_of(seed, 0.2, 12)
    start = Future(refit.project, refit.plan, refit.record)
    launch = quantile(start.samples(300, seed).ends(frozenset()), 0.6)
    future = Future(replace(refit.project, launch=launch), refit.plan, refit.record)
    said = []
    for job in range(len(future.jobs.ids)):
        dropped = frozenset({job, (job + seed) % len(future.jobs.ids)})
        chance = future.samples(300, seed).p(dropped)
        for goal in (0.65, 0.75, 0.9, chance, chance + 0.001):
            holds = future.samples(300, seed).holds(dropped, goal)
            assert holds == (chance >= goal)
            said.append(holds)
    assert len(set(said)) == 2


def test_a_sample_that_is_late_with_all_moved_counts_as_late_with_some():
    refit = refit_of(3, 0.2, 12)
    start = Future(refit.project, refit.plan, refit.record)
    launch = quantile(start.samples(300, 3).ends(frozenset()), 0.5)
    future = Future(replace(refit.project, launch=launch), refit.plan, refit.record)
    samples, movable_ = future.samples(300, 3), frozenset({0, 1, 2})
    samples.give_up(movable_)
    assert samples.p_best == samples.p(movable_) < 1
    assert all(samples.p(frozenset({job})) <= samples.p_best for job in movable_)
    assert not samples.holds(frozenset({0}), samples.p_best + 0.01)
