"""The two repairs against the checker, on refits whose plan was upset."""

from dataclasses import replace

import numpy as np
import pytest

from tackwatch.plan.check import check, score
from tackwatch.plan.model import (
    Grid,
    Link,
    Person,
    Placed,
    Plan,
    Project,
    Span,
    Step,
    Told,
    Window,
)
from tackwatch.plan.repair import keep_order, keep_times
from tests.support.random_refits import random_project

GRID = Grid(0.0, 900, 4 * 96)
DAYS = tuple((96 * day, 96 * day + 8) for day in range(4))
ANN, BEN = Person("ann", DAYS), Person("ben", DAYS)


def project_of(*steps: Step, launch: int = 300, people=(ANN, BEN), **more) -> Project:
    return Project(GRID, launch, steps, people=people, **more)


def starts(plan: Plan | None) -> dict[str, int]:
    assert plan is not None
    return {one.step_id: one.start for one in plan.placed}


def told(id_: str, work: int, start: int, who: str = "ann", **more) -> Step:
    return Step(id_, work, able=("ann", "ben"), told=Told(start, (who,)), **more)


def told_of(project: Project, plan: Plan) -> Project:
    """Give the project whose crew was told of a plan."""
    at = {one.step_id: one for one in plan.placed}
    steps = (
        one if one.fixed else replace(one, told=Told(at[one.id].start, at[one.id].people))
        for one in project.steps
    )
    return replace(project, steps=tuple(steps))


def without(person: Person, away: Span) -> Person:
    kept = tuple(span for span in person.open if span[1] <= away[0] or span[0] >= away[1])
    return replace(person, open=kept)


def upset(project: Project, seed: int) -> Project:
    """Have somebody away for two days, a part come late, work take longer, and a job be found."""
    away = project.people[seed % len(project.people)]
    people = tuple(without(one, (96, 3 * 96)) if one is away else one for one in project.people)
    free = [one for one in project.steps if one.fixed is None and one.crew == 1]
    late, longer = free[seed % len(free)], free[(7 * seed + 3) % len(free)]
    steps = [
        replace(one, earliest=5 * 96) if one is late
        else replace(one, work=one.work + 2) if one is longer and one is not late
        else one
        for one in project.steps
    ]  # fmt: skip
    found = replace(longer, id="found", told=None, work=4, wet_in=(), dust_in=(), dry_id=None)
    return replace(project, people=people, steps=(*steps, found))


def sound(seed: int, steps_n: int = 50) -> Project:
    """Give a refit whose crew was told of a plan that keeps all rules."""
    project = random_project(seed, steps_n, 3, told=True, under_way=seed % 2 == 1)
    plan = keep_order(project)
    assert plan is not None
    assert check(project, plan) == ()
    return told_of(project, plan)


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_that_still_holds_is_kept_whole(seed):
    project = sound(seed)
    plan = keep_times(project)
    assert plan is not None
    assert check(project, plan) == ()
    assert plan.score.moved == 0


@pytest.mark.parametrize("seed", range(6))
def test_no_repair_breaks_a_rule(seed):
    project = upset(sound(seed), seed)
    for repair in (keep_times, keep_order):
        plan = repair(project)
        assert plan is not None
        assert check(project, plan) == ()


@pytest.mark.parametrize("seed", range(6))
def test_what_lost_its_time_cannot_be_put_back(seed):
    project = upset(sound(seed), seed)
    plan = keep_times(project)
    assert plan is not None
    moved = [one for one in plan.placed if _moved(project, one)]
    assert moved
    for one in moved:
        assert not _fits_as_told(project, plan, one)


@pytest.mark.parametrize("seed", range(3))
def test_keeping_times_moves_less_than_keeping_the_order(seed):
    project = upset(sound(seed), seed)
    times, order = keep_times(project), keep_order(project)
    assert times is not None
    assert order is not None
    assert times.score.moved <= order.score.moved


def test_one_keeps_the_promise_and_the_other_saves_the_date():
    # One cannot begin before slot 2. Two was told to follow it at 4, and three to be done by the launch.
    one = told("one", 4, 0, earliest=2)
    two, three = told("two", 2, 4), told("three", 2, 6)
    project = project_of(one, two, three, launch=8, people=(ANN,))
    times, order = keep_times(project), keep_order(project)
    assert starts(times) == {"one": 96, "two": 4, "three": 6}
    assert starts(order) == {"one": 2, "two": 0, "three": 6}
    assert times.score.late > 0 == order.score.late


def test_who_is_away_is_stood_in_for_at_the_same_time():
    project = project_of(told("one", 4, 0), people=(replace(ANN, open=DAYS[1:]), BEN))
    plan = keep_times(project)
    assert plan.placed[0] == Placed("one", 0, 4, ("ben",))
    assert plan.score.moved == 1


def test_what_lost_its_slot_takes_none_that_another_keeps():
    late = told("late", 4, 0, earliest=2)
    kept = told("kept", 4, 4)
    assert starts(keep_times(project_of(late, kept, people=(ANN,)))) == {"late": 96, "kept": 4}


def test_found_work_goes_around_what_was_told():
    project = project_of(Step("found", 4, able=("ann",)), told("kept", 6, 0), people=(ANN,))
    assert starts(keep_times(project)) == {"found": 96, "kept": 0}


def test_what_hangs_on_a_delay_goes_with_it():
    first, then = told("first", 4, 0, earliest=6), told("then", 2, 4)
    project = project_of(first, then, links=(Link("first", "then"),))
    assert starts(keep_times(project)) == {"first": 96, "then": 100}


def test_a_coat_keeps_its_time_even_where_that_misses_a_window():
    ready = np.arange(GRID.slots + 1, dtype=np.int64) + 2
    window = Window(ready, ready + 1)
    project = project_of(
        told("coat", 2, 0),
        told("next", 2, 6),
        links=(Link("coat", "next", window_id="w", missed_work=2),),
        windows={"w": window},
        people=(replace(ANN, open=((0, 10),)), BEN),
    )
    coat, last = keep_times(project).placed
    assert (coat.start, last.start, last.end, last.missed) == (0, 6, 10, ("coat",))


def test_what_should_have_begun_yesterday_begins_now():
    assert starts(keep_times(project_of(told("late", 4, -20)))) == {"late": 0}


def test_where_nobody_was_told_there_is_nothing_to_keep():
    project = project_of(Step("one", 4, able=("ann",)))
    assert keep_times(project) is None
    assert keep_order(project) is None


def test_what_cannot_begin_in_its_turn_holds_up_nobody_else():
    project = project_of(told("first", 2, 0, earliest=190), told("then", 2, 2), people=(ANN,))
    assert starts(keep_order(project)) == {"first": 192, "then": 0}


def _moved(project: Project, one: Placed) -> bool:
    step = project.step_of[one.step_id]
    if step.told is None or step.fixed is not None:
        return False
    return one.start != step.told.start or bool(set(one.people) - set(step.told.people))


def _fits_as_told(project: Project, plan: Plan, one: Placed) -> bool:
    """Say whether a step could be where it was told to be, whichever windows it would miss."""
    step = project.step_of[one.step_id]
    assert step.told is not None
    into = [k for k in project.links if k.after == step.id and k.missed_work is not None]
    for some in ([], into, *([k] for k in into)):
        end = step.told.start + step.work + sum(k.missed_work or 0 for k in some)
        missed = tuple(dict.fromkeys(k.before for k in some))
        there = Placed(step.id, step.told.start, end, step.told.people, missed)
        placed = tuple(there if x is one else x for x in plan.placed)
        if not check(project, Plan(placed, score(project, placed))):
            return True
    return False
