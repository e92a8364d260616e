"""The engine's door: a project in, the best plan that was found in time out."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.course import Course
from tackwatch.plan.engine.errors import CannotPlaceError, InfeasibleError
from tackwatch.plan.engine.hands import Hands, read_plan
from tackwatch.plan.engine.packing.course import Packing
from tackwatch.plan.engine.packing.short import Short, short_way
from tackwatch.plan.model import Plan, Project, Score


@dataclass(frozen=True, slots=True)
class Budget:
    """How long to search.

    Attributes
    ----------
    seconds
        At most so long, by the clock that is passed in.
    workers
        Threads.
    seed
        Of chance.
    rounds
        At most so many rounds of search; with a number the outcome hangs on nothing but the project and the
        seed, as long as the seconds do not run out first.
    """

    seconds: float
    workers: int = 2
    seed: int = 0
    rounds: int | None = None


def never() -> bool:
    """Say that nobody has cancelled."""
    return False


def solve(
    project: Project,
    budget: Budget,
    *,
    clock: Callable[[], float],
    cancelled: Callable[[], bool] = never,
    hint: Plan | None = None,
    on_better: Callable[[Plan], None] | None = None,
) -> Plan:
    """Plan a project.

    Parameters
    ----------
    project : Project
        What is to be planned.
    budget : Budget
        How long to search.
    clock : callable
        Seconds that go by.
    cancelled : callable
        Asked now and then; the best plan so far is given when it says so.
    hint : Plan, optional
        A plan to begin with, of this project or one like it; where it keeps all rules, the answer is no worse.
    on_better : callable, optional
        Told of each better plan.

    Raises
    ------
    CannotPlaceError
        When a step has nowhere to go.
    InfeasibleError
        When the gaps contradict one another.
    """
    if not project.steps:
        return Plan((), Score(0, 0, 0, 0, 0), 0)
    ends_at = clock() + budget.seconds
    a = to_arrays(project)
    hands = Hands(a, budget.seed, max(1, budget.workers))
    hands.begin(project, hint)

    def tell() -> None:
        if on_better is not None and hands.best.lacking == 0:
            on_better(read_plan(project, a, hands.best))

    tell()
    short = short_way(a)
    if short is not None:
        return _pack(project, short, hands, budget, lambda: ends_at - clock(), cancelled, tell)
    course = Course(a, hands, ends_at, budget.rounds, clock, cancelled, tell)
    course.run()
    if hands.best.lacking:
        raise _nowhere(project, hands)
    return read_plan(project, a, hands.best, course.late_bound)


def _pack(
    project: Project,
    short: Short,
    hands: Hands,
    budget: Budget,
    left: Callable[[], float],
    cancelled: Callable[[], bool],
    tell: Callable[[], None],
) -> Plan:
    """Plan a project without people and windows."""
    best = hands.best
    start = None if best.lacking else best.desk.steps["start"].astype(np.int64)
    packing = Packing(
        short, start, max(1, budget.workers), budget.seed, budget.rounds, left, cancelled
    )
    packing.run()
    if packing.start is None:
        raise InfeasibleError(proved=False)
    if hands.offer(packing.start.astype(np.int32), best.desk.crew.copy()):
        tell()
    return read_plan(project, hands.a, hands.best, max(0, packing.least - project.launch))


def _nowhere(project: Project, hands: Hands) -> Exception:
    """Say why there is no plan: a step without room, or a gap that nothing keeps."""
    hands.best.draw_up()
    step, other, _ = hands.best.desk.failed
    if other >= 0:
        return InfeasibleError(proved=False)
    return CannotPlaceError(project.steps[int(step)].id, "horizon")
