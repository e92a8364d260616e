"""Each reason is held to a try of its own: the step is put earlier, and the checker says what breaks."""

from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from tackwatch.plan.check import Violation, check, score
from tackwatch.plan.model import (
    Grid,
    Link,
    Person,
    Place,
    Placed,
    Plan,
    Project,
    Step,
    Told,
    Use,
    Window,
)
from tackwatch.plan.repair import keep_order
from tackwatch.plan.why import Why, why_all
from tests.support.random_refits import random_project

GRID = Grid(0.0, 900, 4 * 96)
DAYS = tuple((96 * day, 96 * day + 8) for day in range(4))
ANN, BEN = Person("ann", DAYS), Person("ben", DAYS)
ONE = Step("one", 4, able=("ann",))
TWO = Step("two", 4, able=("ann",))


def why(project: Project, *placed: Placed, of: str = "two") -> Why:
    assert check(project, Plan(placed, score(project, placed))) == ()
    return why_all(project, placed)[of]


def project_of(*steps: Step, people=(ANN, BEN), **more) -> Project:
    return Project(GRID, 300, steps, people=people, **more)


def ann(id_: str, start: int, end: int) -> Placed:
    return Placed(id_, start, end, ("ann",))


def test_it_waits_for_the_person_who_is_busy():
    found = why(project_of(ONE, TWO), ann("one", 0, 4), ann("two", 4, 8))
    assert found == Why("person", 3, "one", "ann", 4)


def test_who_is_busy_until_the_evening_is_the_reason_next_morning():
    found = why(project_of(replace(ONE, work=8), TWO), ann("one", 0, 8), ann("two", 96, 100))
    assert found == Why("person", 4, "one", "ann", 8)


def test_somebody_else_who_is_free_is_no_reason_to_wait():
    two = replace(TWO, able=("ann", "ben"))
    assert why(project_of(ONE, two), ann("one", 0, 4), ann("two", 4, 8)) == Why("free", 3)


def test_it_waits_for_paint_to_cure():
    ready = np.arange(GRID.slots + 1, dtype=np.int64) + 3
    links = (Link("one", "two", window_id="w"),)
    project = project_of(
        replace(ONE, work=1), replace(TWO, work=1), links=links, windows={"w": Window(ready)}
    )
    assert why(project, ann("one", 0, 1), ann("two", 4, 5)) == Why("cure", 3, "one", until=4)


def test_it_follows_what_comes_before():
    project = project_of(ONE, replace(TWO, able=("ben",)), links=(Link("one", "two"),))
    assert why(project, ann("one", 0, 4), Placed("two", 4, 8, ("ben",))) == Why(
        "after", 3, "one", until=4
    )


def test_it_waits_for_the_part():
    assert why(project_of(replace(TWO, earliest=3)), ann("two", 3, 7)) == Why("part", 2, until=3)


def test_it_waits_for_the_first_hours_of_anybody():
    late = replace(ANN, open=DAYS[1:])
    assert why(project_of(TWO, people=(late,)), ann("two", 96, 100)) == Why("hours", 95, until=96)


def test_it_waits_for_the_place():
    there = (Use("pump", 1),)
    one, two = replace(ONE, uses=there), replace(TWO, uses=there, able=("ben",))
    project = project_of(one, two, places=(Place("pump", 1),))
    found = why(project, ann("one", 0, 4), Placed("two", 4, 8, ("ben",)))
    assert found == Why("zone", 3, "one", until=4)


def test_sanding_waits_until_the_zone_is_dry():
    dry = np.arange(GRID.slots + 1, dtype=np.int64) + 2
    one = replace(ONE, work=2, wet_in=("bow",), dry_id="dry")
    two = replace(TWO, able=("ben",), dust_in=("bow",))
    project = project_of(one, two, tables={"dry": dry})
    found = why(project, ann("one", 0, 2), Placed("two", 4, 8, ("ben",)))
    assert found == Why("zone", 3, "one", until=4)


def test_a_coat_is_held_back_for_the_window_of_the_next():
    slots = np.arange(GRID.slots + 1, dtype=np.int64)
    links = (Link("one", "two", window_id="w", missed_work=2),)
    one, two = replace(ONE, work=1), replace(TWO, work=1, able=("ben",), earliest=6)
    project = project_of(one, two, links=links, windows={"w": Window(slots + 1, slots + 2)})
    placed = (ann("one", 3, 4), Placed("two", 6, 7, ("ben",)))
    assert why(project, *placed, of="one") == Why("window", 2, "two", until=6)


def test_what_begins_at_once_and_what_was_told():
    told = replace(TWO, told=Told(3, ("ann",)))
    assert why(project_of(TWO), ann("two", 0, 4)) == Why("now")
    assert why(project_of(told), ann("two", 3, 7)) == Why("told", 2)
    assert why(project_of(TWO), ann("two", 3, 7)) == Why("free", 2)
    under_way = replace(TWO, fixed=Told(0, ("ann",)))
    assert why(project_of(under_way), ann("two", 0, 4)) == Why("begun")


@pytest.mark.parametrize("seed", range(4))
def test_putting_a_step_earlier_breaks_the_rule_that_is_its_reason(seed):
    project = random_project(seed, 40, 3, told=True, under_way=seed % 2 == 1)
    plan = keep_order(project)
    assert plan is not None
    seen = Counter()
    for id_, found in why_all(project, plan.placed).items():
        seen[found.code] += 1
        if found.tried is None:
            assert found.code in ("begun", "now")
            continue
        tries = [violations(project, plan, id_, found.tried, crew) for crew in crews(project, id_)]
        if found.code in ("free", "told"):
            assert any(not one for one in tries), (id_, found)
        else:
            assert all(names(found, id_, one) for one in tries if one is not None), (id_, found)
            assert all(tries)
    assert len(seen) >= 5, seen


def crews(project: Project, id_: str) -> list[tuple[str, ...]]:
    step = project.step_of[id_]
    return list(combinations(step.able, step.crew))


def violations(
    project: Project, plan: Plan, id_: str, start: int, crew: tuple[str, ...]
) -> tuple[Violation, ...]:
    """Give what breaks with the step there, with whatever it misses then."""
    step = project.step_of[id_]
    into = [k for k in project.links if k.after == id_ and k.missed_work is not None]
    for some in ([], into, *([k] for k in into)):
        end = start + step.work + sum(k.missed_work or 0 for k in some)
        missed = tuple(dict.fromkeys(k.before for k in some))
        placed = tuple(
            Placed(id_, start, end, crew, missed) if one.step_id == id_ else one
            for one in plan.placed
        )
        found = check(project, Plan(placed, score(project, placed)))
        if not any(
            one.step_id == id_ and one.code in ("wrong_missed", "wrong_length") for one in found
        ):
            return found
    raise AssertionError(id_)


def names(found: Why, id_: str, broken: tuple[Violation, ...]) -> bool:
    """Say whether what breaks is what the reason says."""
    if found.code in ("cure", "after"):
        return Violation("too_early", id_, found.step_id or "") in broken
    if found.code == "part":
        return Violation("before_earliest", id_) in broken
    if found.code == "hours":
        return any((one.code, one.step_id) == ("not_open", id_) for one in broken)
    if found.code == "person":
        return any(one.code in ("person_twice", "not_open") for one in broken)
    if found.code == "zone":
        return any(
            one.code == "place_full"
            or (one.code == "dust_on_wet" and found.step_id in (one.step_id, one.other_id))
            for one in broken
        )
    return any(
        one.step_id == found.step_id and one.code in ("wrong_missed", "wrong_length", "too_late")
        for one in broken
    )
