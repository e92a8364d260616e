"""The engine against the checker, on random refits and on small cases whose answer is plain."""

from itertools import count

import numpy as np
import pytest

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, CannotPlaceError, InfeasibleError, solve
from tackwatch.plan.model import (
    Grid,
    Link,
    Person,
    Place,
    Plan,
    Project,
    Step,
    Told,
    Use,
    Window,
)
from tests.support.random_refits import random_project

GRID = Grid(0.0, 900, 4 * 96)
# Two people with days of 8 slots; slot 0 is a morning.
DAYS = tuple((96 * day, 96 * day + 8) for day in range(4))
ANN, BEN = Person("ann", DAYS), Person("ben", DAYS)


def few_rounds(seed: int = 0, rounds: int = 3) -> Budget:
    return Budget(1e9, workers=2, seed=seed, rounds=rounds)


def plan_of(project: Project, hint: Plan | None = None, rounds: int = 3) -> Plan:
    ticks = count()
    plan = solve(project, few_rounds(rounds=rounds), clock=lambda: float(next(ticks)), hint=hint)
    assert check(project, plan) == ()
    return plan


def project_of(*steps: Step, launch: int = 400, people=(ANN, BEN), **more) -> Project:
    return Project(GRID, launch, steps, people=people, **more)


def starts(plan: Plan) -> dict[str, int]:
    return {one.step_id: one.start for one in plan.placed}


@pytest.mark.parametrize("seed", range(6))
def test_no_plan_of_a_random_refit_breaks_a_rule(seed):
    plan_of(random_project(seed, 60, 3, told=seed % 2 == 1, under_way=seed % 3 == 1), rounds=2)


def test_one_seed_gives_one_plan():
    project = random_project(3, 60, 3)
    assert plan_of(project) == plan_of(project)


def test_a_step_waits_for_the_people_of_another():
    one = Step("one", 5, able=("ann",))
    two = Step("two", 5, able=("ann",))
    assert sorted(starts(plan_of(project_of(one, two))).values()) == [0, 96]


def test_a_crew_of_two_needs_both_at_once():
    both = Step("both", 6, crew=2, able=("ann", "ben"))
    alone = Step("alone", 8, able=("ben",))
    assert sorted(starts(plan_of(project_of(both, alone))).values()) == [0, 96]


def test_a_place_holds_only_so_many():
    steps = [Step(name, 4, able=("ann", "ben"), uses=(Use("hull", 1),)) for name in "abc"]
    plan = plan_of(project_of(*steps, places=(Place("hull", 1),)))
    assert sorted(starts(plan).values()) == [0, 4, 96]


def test_sanding_waits_until_the_paint_next_to_it_is_dry():
    paint = Step("paint", 2, able=("ann",), wet_in=("hull",), dry_id="dry", fixed=Told(0, ("ann",)))
    sand = Step("sand", 2, able=("ben",), dust_in=("hull",))
    dry = np.arange(GRID.slots + 1, dtype=np.int64) + 3
    assert starts(plan_of(project_of(paint, sand, tables={"dry": dry})))["sand"] == 5


def overnight(closes_after: int, missed_work: int | None = 2) -> Project:
    """A coat that is recoated two hours later, at the latest `closes_after` slots."""
    ends = np.arange(GRID.slots + 1, dtype=np.int64)
    return project_of(
        Step("first", 6, able=("ann",)),
        Step("second", 4, able=("ann",)),
        links=(Link("first", "second", window_id="paint", missed_work=missed_work),),
        windows={"paint": Window(ready=ends + 2, last=ends + closes_after)},
    )


def test_a_window_that_closes_in_the_night_is_missed_when_no_coat_can_be_held_back():
    plan = plan_of(overnight(closes_after=20))
    assert plan.score.missed_work == 2
    assert plan.placed[1].missed == ("first",)


def test_a_coat_is_held_back_when_its_window_would_close_in_the_night():
    short = Step("short", 3, able=("ann",))
    ends = np.arange(GRID.slots + 1, dtype=np.int64)
    project = project_of(
        Step("other", 4, able=("ann",), fixed=Told(0, ("ann",))),
        short,
        Step("recoat", 3, able=("ann",)),
        links=(Link("short", "recoat", window_id="paint", missed_work=2),),
        windows={"paint": Window(ready=ends + 1, last=ends + 10)},
    )
    plan = plan_of(project)
    assert plan.score.missed_work == 0
    assert starts(plan)["short"] == 96


def test_what_is_done_stays_where_it_was_even_outside_the_hours():
    done = Step("done", 4, able=("ben",), fixed=Told(20, ("ann",)))
    after = Step("after", 4, able=("ben",))
    plan = plan_of(project_of(done, after, links=(Link("done", "after"),)))
    assert starts(plan) == {"done": 20, "after": 96}


def test_what_was_told_is_kept_when_nothing_speaks_against_it():
    told = Step("told", 4, able=("ann", "ben"), told=Told(100, ("ben",)))
    plan = plan_of(project_of(told, Step("other", 4, able=("ann", "ben"))))
    assert plan.score.moved == 0
    assert starts(plan)["told"] == 100


def test_a_hint_is_never_made_worse():
    project = random_project(5, 60, 3, told=True)
    good = plan_of(project, rounds=8)
    assert plan_of(project, hint=good, rounds=1).score <= good.score


def test_a_largest_gap_sends_the_step_before_later():
    first, second = Step("first", 2, able=("ann",)), Step("second", 4, able=("ben",), earliest=50)
    plan = plan_of(project_of(first, second, links=(Link("first", "second", max_gap=4),)))
    assert starts(plan) == {"first": 96, "second": 98}


def test_gaps_that_contradict_one_another_are_told_as_proved():
    steps = Step("a", 2, able=("ann",)), Step("b", 2, able=("ann",))
    links = (Link("a", "b", min_gap=5), Link("a", "b", max_gap=3))
    with pytest.raises(InfeasibleError) as told:
        plan_of(project_of(*steps, links=links))
    assert told.value.proved


@pytest.mark.parametrize(
    ("step", "code"),
    [
        (Step("s", 4, crew=3, able=("ann", "ben")), "people"),
        (Step("s", 9, able=("ann",)), "hours"),
        (Step("s", 4, able=("ann",), uses=(Use("hull", 2),)), "place"),
        (Step("s", 4, able=("ann",), earliest=96 * 3 + 6), "horizon"),
    ],
)
def test_a_step_that_has_nowhere_to_go_is_named_with_the_reason(step, code):
    with pytest.raises(CannotPlaceError) as told:
        plan_of(project_of(step, places=(Place("hull", 1),)))
    assert (told.value.step_id, told.value.code) == ("s", code)


def test_too_much_work_for_the_horizon_names_a_step():
    steps = [Step(f"s{i}", 8, able=("ann",)) for i in range(5)]
    with pytest.raises(CannotPlaceError) as told:
        plan_of(project_of(*steps))
    assert told.value.code == "horizon"


def test_a_project_without_steps_has_a_plan():
    assert plan_of(project_of()).placed == ()
