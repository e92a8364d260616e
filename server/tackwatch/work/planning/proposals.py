"""The ways to do the work that are put before the owner, why each step stands where it does, and what is in the way.

Rules
-----
- `fresh` is what the search found; where a quick repair is better still, it is that. `keeps_times` and `keeps_order`
  are told where the crew was told anything and they are other plans than those before them.
- A repair that breaks a rule is not told of.
- Instants are in UTC, days the refit's own; a piece is named by its step of the refit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Final

from tackwatch.plan.build.project import Built
from tackwatch.plan.check import check
from tackwatch.plan.engine.errors import CannotPlaceError
from tackwatch.plan.infeasible import Answer, answers, nowhere
from tackwatch.plan.model import Placed, Plan
from tackwatch.plan.repair import keep_order, keep_times
from tackwatch.plan.why import Why, why_all
from tackwatch.trade.warnings import iso_of
from tackwatch.work.planning.answer import Json, Proposal, day_of_end

REPAIRS: Final = {"keeps_times": keep_times, "keeps_order": keep_order}


def proposals_of(built: Built, found: Plan) -> tuple[Proposal, ...]:
    """Give the proposals, the fresh one first.

    Parameters
    ----------
    built
        What was planned.
    found
        What the search found, a plan that keeps all rules.
    """
    repaired = {id_: plan for id_, plan in _repaired(built) if not check(built.project, plan)}
    best = min([found, *repaired.values()], key=lambda plan: plan.score)
    fresh = replace(best, late_bound=found.late_bound)
    chosen = {"fresh": fresh}
    for id_, plan in repaired.items():
        if all(plan.placed != other.placed for other in chosen.values()):
            chosen[id_] = replace(plan, late_bound=found.late_bound)
    return tuple(Proposal(id_, plan, why_of(built, plan.placed)) for id_, plan in chosen.items())


def _repaired(built: Built) -> Iterator[tuple[str, Plan]]:
    for id_, repair in REPAIRS.items():
        plan = repair(built.project)
        if plan is not None:
            yield id_, plan


def why_of(built: Built, placed: tuple[Placed, ...]) -> dict[str, Json]:
    """Give, by step of the refit, why its first piece stands where it does."""
    whys = why_all(built.project, placed)
    steps = _steps_of(built)
    parts = (part for part in built.parts.values() if part.standing != "done")
    return {part.step.id: _why(built, steps, part.step.id, whys[part.ids[0]]) for part in parts}


def _why(built: Built, steps: dict[str, str], step_id: str, why: Why) -> Json:
    code, other = why.code, steps.get(why.step_id or "")
    if code == "after" and other is not None and built.parts[other].step.laid is not None:
        code = "cure"  # what lies already has its clock as a gap
    until_at = None if why.until is None else iso_of(built.clock.at(why.until))
    params: Json = {"step_id": other, "member_id": why.person_id, "until_at": until_at}
    if code == "part":
        expected_at = built.parts[step_id].step.expected_at
        params["expected_at"] = until_at if expected_at is None else iso_of(expected_at)
    return {"code": code, "params": {name: one for name, one in params.items() if one is not None}}


def cannot_of(built: Built, plan: Plan, enough: Callable[[], bool]) -> list[Json]:
    """Say what decides a late plan, and what it would take; ``enough`` ends the tries."""
    return _told(built, answers(built, plan, enough))


def nowhere_of(built: Built, error: CannotPlaceError) -> list[Json]:
    """Say what it would take that a step has room."""
    return _told(built, nowhere(built, error))


def _told(built: Built, found: Iterable[Answer]) -> list[Json]:
    return [
        {
            "step_ids": list(one.step_ids),
            "code": one.code,
            "params": {name: _param(value) for name, value in one.params.items()},
            "buys_on": None if one.done is None else day_of_end(built, one.done),
        }
        for one in found
    ]


def _param(value: Any) -> str | int:
    if isinstance(value, datetime):
        return iso_of(value)
    return value.isoformat() if isinstance(value, date) else value


def _steps_of(built: Built) -> dict[str, str]:
    """Give the step of the refit by piece, and by what was laid of it."""
    own = {id_: part.step.id for part in built.parts.values() for id_ in part.ids}
    return own | {part.laid_id: part.step.id for part in built.parts.values() if part.laid_id}
