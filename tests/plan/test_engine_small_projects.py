"""Small projects of every shape there is, odd ones too: a plan passes the checker, or the reason is told."""

from collections import Counter
from itertools import count
from random import Random

import numpy as np

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, CannotPlaceError, InfeasibleError, solve
from tackwatch.plan.model import (
    NEVER,
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

CASES = 400


def test_small_projects_of_every_shape_have_a_sound_plan_or_a_reason():
    answers = Counter(_answer(seed) for seed in range(CASES))
    assert answers["sound"] > CASES / 3
    assert {"people", "place", "horizon"} <= set(answers)


def _answer(seed: int) -> str:
    project, ticks, told = odd_project(seed), count(), list[Plan]()
    try:
        last = solve(
            project,
            Budget(1e9, seed=seed, rounds=2),
            clock=lambda: float(next(ticks)),
            on_better=told.append,
        )
    except CannotPlaceError as error:
        return error.code
    except InfeasibleError:
        return "infeasible"
    for plan in [*told, last]:
        assert check(project, plan) == (), f"seed {seed}"
    return "sound"


def odd_project(seed: int) -> Project:
    """Draw a project: spans that touch, milestones with a crew, fixed steps that lie over one another or before 0,
    gaps that reach back, people who are not there, windows that never open."""
    chance = Random(f"odd {seed}")
    slots = chance.choice((40, 96, 200))
    people = tuple(_person(chance, f"p{k}", slots) for k in range(chance.randint(1, 3)))
    steps = tuple(_step(chance, i, slots, people) for i in range(chance.randint(1, 9)))
    ends = np.arange(slots + 1, dtype=np.int64)
    return Project(
        Grid(0.0, 900, slots),
        chance.randint(0, slots // 2),
        steps,
        tuple(_links(chance, steps)),
        people,
        (Place("z", chance.randint(1, 3)),),
        {"w": Window(ends + chance.randint(0, 5), ends + chance.randint(5, 30))},
        {"d": np.where(ends > slots - 5, NEVER, ends + 4)},
    )


def _person(chance: Random, id_: str, slots: int) -> Person:
    spans, at = [], chance.randint(0, 5)
    while at < slots:
        end = min(slots, at + chance.randint(1, 12))
        spans.append((at, end))
        at = end + chance.choice((0, 3, 10, 20))
    return Person(id_, tuple(spans))


def _step(chance: Random, i: int, slots: int, people: tuple[Person, ...]) -> Step:
    ids = [one.id for one in people]
    crew = min(chance.choice((0, 1, 1, 1, 2)), len(ids))
    able = tuple(chance.sample([*ids, "ghost"], len(ids)) if chance.random() < 0.2 else ids)
    fixed = Told(chance.randint(-5, slots // 2), tuple(chance.sample(ids, crew)))
    told = Told(chance.randint(0, slots - 1), able[:crew] if crew else ())
    return Step(
        f"s{i}",
        chance.choice((0, 1, 2, 3, 5)),
        crew,
        able if crew else (),
        uses=(Use("z", chance.choice((0, 1, 1, 2))),) if chance.random() < 0.5 else (),
        dust_in=("z",) if chance.random() < 0.3 else (),
        wet_in=("z", "y") if chance.random() < 0.3 else (),
        dry_id=chance.choice((None, "d")),
        by_launch=chance.random() < 0.7,
        earliest=chance.choice((0, 0, 7)),
        fixed=fixed if chance.random() < 0.15 else None,
        told=told if chance.random() < 0.3 else None,
        walk_zone=chance.choice((None, "z", "y")),
        group=chance.choice((None, "g")),
    )


def _links(chance: Random, steps: tuple[Step, ...]):
    for _ in range(chance.randint(0, len(steps)) if len(steps) > 1 else 0):
        a, b = chance.sample(range(len(steps)), 2)
        if a > b and chance.random() < 0.8:
            a, b = b, a
        least = chance.choice((0, 0, 2, -1, -3))
        most = chance.choice((None, None, least + chance.randint(0, 10)))
        window = chance.choice((None, None, "w")) if a < b else None
        missed = chance.choice((None, 1, 2)) if most is not None or window else None
        yield Link(f"s{a}", f"s{b}", least, most, window, missed)
