"""Working a plan out: facts in, the result as JSON-ready objects out. Nothing here knows of the database."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from traceback import format_exception

from tackwatch.plan.build.errors import CircleError
from tackwatch.plan.build.project import Built, build
from tackwatch.plan.check import check
from tackwatch.plan.engine.errors import CannotPlaceError, InfeasibleError
from tackwatch.plan.engine.solve import Budget, solve
from tackwatch.plan.forecast import Forecast, forecast
from tackwatch.plan.model import Plan
from tackwatch.work.planning.answer import Json, Proposal, answer
from tackwatch.work.planning.hint import hint_of
from tackwatch.work.planning.proposals import cannot_of, nowhere_of, proposals_of
from tackwatch.work.planning.record import record_of
from tackwatch.work.planning.task import Done, Failed, Progress, Task

Tell = Callable[[Progress], None]
_TRIES_S = 10.0  # for what it would take to be in time


def work_out(task: Task, tell: Tell, clock: Callable[[], float]) -> Done | Failed:
    """Work a plan out.

    Parameters
    ----------
    task
        What it is made from, and for how long may be searched.
    tell
        Is told how far it is.
    clock
        Seconds that go by.
    """
    tell(Progress("building", 0.0))
    try:
        built = build(task.facts)
        plan = _search(task, built, tell, clock)
    except CircleError as error:
        return Failed("steps-in-a-circle", tuple(sorted(error.step_ids)), "gap", str(error))
    except CannotPlaceError as error:
        step_ids = (step_of(built, error.step_id),)
        takes = tuple(nowhere_of(built, error))
        return Failed("cannot-place", step_ids, detail=str(error), takes=takes)
    except InfeasibleError as error:
        return Failed("gaps-contradict", (), "gap", str(error))
    violations = check(built.project, plan)
    if violations:  # never shown: a plan that breaks a rule of the yard is worse than none
        return Failed("breaks-rules", detail="; ".join(map(str, violations[:20])))
    tell(_found("searching", 0.9, built, plan))
    proposals, cannot, told = _proposed(built, plan, clock)
    tell(_found("forecasting", 0.95, built, proposals[0].plan))
    chances, trouble = _forecast(task, built, proposals[0].plan)
    return Done(answer(built, proposals, chances, cannot), told + trouble)


def step_of(built: Built, id_: str) -> str:
    """Give the step of the refit to which a piece in a project belongs."""
    return next((part.step.id for part in built.parts.values() if id_ in part.ids), id_)


def _search(task: Task, built: Built, tell: Tell, clock: Callable[[], float]) -> Plan:
    began = clock()

    def better(plan: Plan) -> None:
        share = min(1.0, (clock() - began) / max(task.seconds, 0.1))
        tell(_found("searching", 0.1 + 0.8 * share, built, plan))

    tell(Progress("searching", 0.1))
    budget = Budget(task.seconds, task.workers, task.seed, task.rounds)
    hint = hint_of(built, task.hint)
    return solve(built.project, budget, clock=clock, hint=hint, on_better=better)


def _found(phase: str, p_done: float, built: Built, plan: Plan) -> Progress:
    late_s = plan.score.late * built.project.grid.slot_s
    missed = sum(bool(one.missed) for one in plan.placed)
    return Progress(phase, round(p_done, 3), late_s, missed)


def _forecast(task: Task, built: Built, plan: Plan) -> tuple[Forecast | None, str]:
    """Give the forecast; where there is none, what went wrong: that is no reason to have no plan."""
    try:
        record = record_of(task.past, built)
        return forecast(built.project, plan, record, samples=task.samples, seed=task.seed), ""
    except Exception as error:
        return None, "".join(format_exception(error))[-4000:]


def _proposed(
    built: Built, plan: Plan, clock: Callable[[], float]
) -> tuple[Sequence[Proposal], list[Json], str]:
    """Give the proposals and what it would take; the plan alone, with what went wrong, where that fails."""
    try:
        proposals = proposals_of(built, plan)
        began = clock()
        cannot = cannot_of(built, proposals[0].plan, lambda: clock() - began > _TRIES_S)
    except Exception as error:
        return (Proposal("fresh", plan),), [], "".join(format_exception(error))[-4000:]
    return proposals, cannot, ""
