"""A quick plan, and when all that must be done by the launch is done in it."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from tackwatch.plan.build.grid import DAY_SLOTS
from tackwatch.plan.engine import keys
from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.compiled.desk import Genes
from tackwatch.plan.engine.errors import CannotPlaceError, InfeasibleError
from tackwatch.plan.engine.hands import Hands, read_plan
from tackwatch.plan.model import Placed, Plan, Project, Score, Slot

TRIES: Final = (20, 300)
TRIED_STEPS: Final = 40_000  # a fraction of a second


def quick_plan(project: Project, like: Plan | None = None) -> Plan | None:
    """Place all steps by some orders and some changes of the best, and give the best plan; None where there is none.

    Parameters
    ----------
    project : Project
        What is to be planned.
    like : Plan, optional
        A plan of a project much like it, whose order is tried as well.

    Raises
    ------
    CannotPlaceError
        When a step has nowhere to go whatever the others do.
    """
    if not project.steps:
        return Plan((), Score(0, 0, 0, 0, 0))
    try:
        a = to_arrays(project)
    except InfeasibleError:
        return None
    hand = Hands(a, 0, 1).all[0]
    ways = [keys.by_tail(a, 0.0, hand.chance, hold) for hold in (2, 1, 0)]
    if like is not None:
        ways += [_sooner(keys.by_plan(a, project, like, exactly=False), hold) for hold in (2, 0)]
    for way in ways:
        way.steps["aim"] = -1  # what was told is no hindrance here
    if like is not None:
        ways.append(keys.by_plan(a, project, like, exactly=True))
    hand.take(ways)
    hand.search(int(np.clip(TRIED_STEPS // len(project.steps), *TRIES)), DAY_SLOTS)
    return None if hand.lacking else read_plan(project, a, hand)


def done_at(project: Project, placed: Sequence[Placed]) -> Slot:
    """Give the slot at which all that must be done by the launch is done."""
    must = {step.id for step in project.steps if step.by_launch}
    return max((one.end for one in placed if one.step_id in must), default=0)


def quickly_done(project: Project, like: Plan | None = None) -> Slot | None:
    """Give when all that must be is done by a quick plan; None where there is none."""
    try:
        plan = quick_plan(project, like)
    except CannotPlaceError:
        return None
    return None if plan is None else done_at(project, plan.placed)


def _sooner(way: Genes, hold: int) -> Genes:
    way.steps["hold"] = hold
    return way
