"""Windows in the forecast: what a missed one costs, and what is held back so that none is missed."""

from dataclasses import replace

import numpy as np
import pytest

from tackwatch.plan.engine.solve import Budget, solve
from tackwatch.plan.forecast import Record, forecast
from tackwatch.plan.forecast import durations as duration_model
from tackwatch.plan.forecast.dispatch import play
from tackwatch.plan.forecast.future import Future
from tackwatch.plan.model import Grid, Link, Person, Placed, Plan, Project, Score, Step, Window
from tests.plan.test_forecast import no_chance
from tests.support.random_refits import random_project

DAY = 96
OPENS, CLOSES = 32, 68  # of each day: eight to five


def refit(steps: list[Step], links: list[Link], people: int = 1, **more) -> Project:
    days = tuple((day * DAY + OPENS, day * DAY + CLOSES) for day in range(30))
    crew = tuple(Person(f"p{n}", days) for n in range(people))
    return Project(Grid(0.0, 900, 30 * DAY), 10 * DAY, tuple(steps), tuple(links), crew, **more)


def planned(*placed: tuple) -> Plan:
    return Plan(tuple(Placed(*one) for one in placed), Score(0, 0, 0, 0, 0))


def too_late(*closings: int, missed_work: int = 6) -> tuple[Project, Plan]:
    """Make coats whose windows have closed when a long job lets the step after them begin."""
    coats = [Step(f"coat{n}", 8, 1, (f"p{n}",)) for n in range(len(closings))]
    steps = [*coats, Step("next", 4, 1, ("p0",)), Step("other", 34, 1, ("p0",))]
    links = [
        Link(f"coat{n}", "next", max_gap=gap, missed_work=missed_work + n)
        for n, gap in enumerate(closings)
    ]
    missed = tuple(one.id for one in coats)
    cost = sum(missed_work + n for n in range(len(closings)))
    plan = planned(
        *((one.id, OPENS, OPENS + 8, one.able) for one in coats),
        ("other", DAY + OPENS, DAY + OPENS + 34, ("p0",)),
        ("next", 2 * DAY + OPENS, 2 * DAY + OPENS + 4 + cost, ("p0",), missed),
    )
    return refit(steps, [*links, Link("other", "next")], len(closings)), plan


@pytest.mark.parametrize("missed_work", [1, 6, 17])
def test_the_step_after_a_missed_window_takes_the_work_for_it_besides(monkeypatch, missed_work):
    no_chance(monkeypatch)
    project, plan = too_late(4, missed_work=missed_work)
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p10 == said.p50 == said.p90 == 2 * DAY + OPENS + 4 + missed_work


def test_two_windows_that_are_missed_at_once_cost_the_work_of_both(monkeypatch):
    no_chance(monkeypatch)
    project, plan = too_late(4, 4)
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p50 == 2 * DAY + OPENS + 4 + 6 + 7


def test_a_window_that_is_still_open_costs_nothing(monkeypatch):
    no_chance(monkeypatch)
    project, plan = too_late(4, 3 * DAY)
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p50 == 2 * DAY + OPENS + 4 + 6


def test_work_for_a_missed_window_runs_over_as_other_work_does(monkeypatch):
    # Everything takes half as long again: 34 become 51 slots, 36 of them on the second day and 15 on the third;
    # the step and what it owes, 4 and 6, become 15.
    no_chance(monkeypatch)
    monkeypatch.setattr(duration_model, "COMMON_MEAN", float(np.log(1.5)))
    project, plan = too_late(4)
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p50 == 2 * DAY + OPENS + 15 + 15


def test_work_for_a_missed_window_is_labour_that_is_done(monkeypatch):
    no_chance(monkeypatch)
    project, plan = too_late(4, 4)
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.burn_up.scope == 8 + 8 + 34 + 4 + 6 + 7


def closes_while_busy() -> tuple[Project, Plan]:
    """Make a coat that the plan lays late, since the one who follows is busy until shortly before the evening."""
    steps = [
        Step("long", 30, 1, ("p1",)),
        Step("coat", 8, 1, ("p0",)),
        Step("next", 6, 1, ("p1",)),
    ]
    link = Link("coat", "next", max_gap=20, missed_work=10)
    plan = planned(
        ("long", OPENS, OPENS + 30, ("p1",)),
        ("coat", OPENS + 16, OPENS + 24, ("p0",)),
        ("next", OPENS + 30, OPENS + 36, ("p1",)),
    )
    return refit(steps, [link], 2), plan


def test_what_the_plan_holds_back_for_a_window_is_not_begun_sooner(monkeypatch):
    # At eight the coat's window would be over at three, and whoever follows is busy until half past three: ten slots of
    # work more, and the evening comes in between. As planned it is met, and the day ends with it.
    no_chance(monkeypatch)
    project, plan = closes_while_busy()
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p10 == said.p50 == said.p90 == CLOSES
    future = Future(project, plan, Record())
    played = play(future.net, future.draw(20, 1), floor=future.floor, starts=True)
    coat = [step.id for step in future.drawn.steps].index("coat")
    assert (played.start[:, coat] == OPENS + 16).all()
    assert (played.missed == 0).all()


def test_what_is_held_back_is_held_back_when_jobs_are_moved_as_well(monkeypatch):
    # Without the job that may wait all is done by the evening, the coat laid as late as the plan lays it.
    no_chance(monkeypatch)
    project, plan = closes_while_busy()
    steps = (*project.steps, Step("may", 20, 1, ("p1",)))
    placed = (*plan.placed, Placed("may", DAY + OPENS, DAY + OPENS + 20, ("p1",)))
    project = replace(project, steps=steps, launch=CLOSES)
    record = Record(afloat=frozenset({"may"}))
    said = forecast(project, Plan(placed, plan.score), record, samples=50, seed=1)
    assert said.p50 == DAY + OPENS + 20
    assert said.to_move.job_ids == ("may",)
    assert said.to_move.p_launch == 1.0


def test_nothing_follows_a_coat_before_its_clock_opens(monkeypatch):
    # By hand: 8 slots, 30 until it may be recoated, 8 slots; twice.
    no_chance(monkeypatch)
    ends = np.arange(30 * DAY + 1)
    steps = [Step(f"coat{n}", 8, 1, ("p0",)) for n in range(3)]
    links = [Link(f"coat{n}", f"coat{n + 1}", window_id="w", missed_work=3) for n in range(2)]
    always = (Person("p0", ((0, 30 * DAY),)),)
    window = {"w": Window(ready=ends + 30, last=ends + 50)}
    project = replace(refit(steps, links, windows=window), people=always)
    plan = planned(*((f"coat{n}", 38 * n, 38 * n + 8, ("p0",)) for n in range(3)))
    said = forecast(project, plan, Record(), samples=20, seed=1)
    assert said.p10 == said.p50 == 8 + 30 + 8 + 30 + 8


@pytest.mark.parametrize("seed", range(6))
def test_no_sample_begins_a_step_before_its_clocks_allow(seed):
    # Nothing of the dispatch stands in this: a step ends no sooner than its work after its start, in whole slots.
    project = random_project(seed, 40, launch_share=0.5)
    plan = solve(project, Budget(20.0, rounds=1), clock=lambda: 0.0)
    future = Future(project, plan, Record())
    draws = future.draw(100, seed)
    start = play(future.net, draws, floor=future.floor, starts=True).start
    number = {step.id: n for n, step in enumerate(future.drawn.steps)}
    checked = 0
    for link in project.links:
        if not {link.before, link.after} <= number.keys():
            continue
        a, b = number[link.before], number[link.after]
        end = start[:, a] + draws.work[:, a]
        known = (start[:, b] < project.grid.slots) & (end <= project.grid.slots)
        opens = end + link.min_gap
        if link.window_id is not None:
            opens = np.maximum(opens, project.windows[link.window_id].ready[end * known])
        assert (start[known, b] >= opens[known]).all()
        checked += int(known.sum())
    for step in future.drawn.steps:
        assert (start[:, number[step.id]] >= step.earliest).all()
    assert checked > 1_000
