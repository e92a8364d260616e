"""What a plan came to, as JSON-ready objects; docs/plan.md says what they mean.

Rules
-----
- Instants are in UTC, days are the refit's own. Labour is in hours, spans in seconds.
- Changes are those of ``plan.changes``, in the order of the days.
- The fan is the labour done by the end of each day, in so many of a hundred samples.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import isfinite
from typing import Any
from zoneinfo import ZoneInfo

from tackwatch.plan.build.grid import HOUR_SLOTS
from tackwatch.plan.build.instants import PlannedStep, planned_steps
from tackwatch.plan.build.project import Built
from tackwatch.plan.changes import Change, changes
from tackwatch.plan.forecast import Forecast
from tackwatch.plan.model import NEVER, Plan, Slot
from tackwatch.trade.warnings import iso_of

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Proposal:
    """One way to do the work, and why each step stands where it stands."""

    id: str
    plan: Plan
    why: Mapping[str, Json] = field(default_factory=dict)


def answer(
    built: Built,
    proposals: Sequence[Proposal],
    forecast: Forecast | None,
    cannot: Sequence[Json] = (),
) -> Json:
    """Give all that came of a plan."""
    return {
        "proposals": [_proposal(built, one) for one in proposals],
        "cannot": list(cannot),
        "notes": [{"step_id": one.step_id, "code": one.code} for one in built.notes],
        "forecast": None if forecast is None else _forecast(built, forecast),
    }


def _proposal(built: Built, proposal: Proposal) -> Json:
    slot_s, plan = built.project.grid.slot_s, proposal.plan
    steps = planned_steps(built, plan.placed)
    return {
        "id": proposal.id,
        "score": {
            "late_s": plan.score.late * slot_s,
            "missed_work_s": plan.score.missed_work * slot_s,
            "moved": plan.score.moved,
            "idle_and_walks_s": plan.score.idle_and_walks * slot_s,
            "uneven_s": plan.score.uneven * slot_s,
        },
        "launch_made": plan.score.late == 0,
        "late_bound_s": None if plan.late_bound is None else plan.late_bound * slot_s,
        "steps": [_step(one, proposal.why.get(one.step_id)) for one in steps],
        "changes": [_change(one) for one in changes(built, plan.placed)],
    }


def _step(one: PlannedStep, why: Json | None) -> Json:
    return {
        "step_id": one.step_id,
        "start_at": iso_of(one.start_at),
        "end_at": iso_of(one.end_at),
        "member_ids": list(one.member_ids),
        "pieces": [
            {
                "start_at": iso_of(piece.start_at),
                "end_at": iso_of(piece.end_at),
                "member_ids": list(piece.member_ids),
            }
            for piece in one.pieces
        ],
        "why": why,
        "cure_until_at": _at(one.cure_until_at),
        "opens_at": _at(one.opens_at),
        "closes_at": _at(one.closes_at),
        "missed": one.missed,
    }


def _change(one: Change) -> Json:
    return {
        "step_id": one.step_id,
        "member_ids_before": list(one.people_before),
        "member_ids_after": list(one.people_after),
        "start_at_before": _at(one.start_before),
        "start_at_after": iso_of(one.start_after),
        "end_at_before": _at(one.end_before),
        "end_at_after": iso_of(one.end_after),
    }


def _forecast(built: Built, one: Forecast) -> Json:
    return {
        "p_launch": one.p_launch,
        "p10_on": day_of_end(built, one.p10),
        "p50_on": day_of_end(built, one.p50),
        "p90_on": day_of_end(built, one.p90),
        "says": list(one.says),
        "r": one.found.r,
        "r_low": one.found.r_low,
        "r_high": one.found.r_high,
        "r_from": "record" if one.found.from_record else "prior",
        "never_ends": one.found.never_ends,
        "criticality": [
            {"job_id": job.job_id, "p_critical": job.p_critical} for job in one.criticality
        ],
        "to_move": list(one.to_move.job_ids),
        "p_with_move": one.to_move.p_launch if one.to_move.job_ids else None,
        "burn_up": _burn_up(built, one),
    }


def _burn_up(built: Built, one: Forecast) -> Json | None:
    scope = one.burn_up.scope
    if not isfinite(scope):
        return None
    done = [{"on": _on(built, day), "labour_h": _hours(labour)} for day, labour in one.burn_up.done]
    return {"done": done, "fan": list(_fan(built, one)), "scope_h": _hours(scope)}


def _fan(built: Built, one: Forecast) -> Iterator[Json]:
    for day in one.burn_up.left:
        names = ("p10_h", "p50_h", "p90_h")
        done = {name: _hours(slots) for name, slots in zip(names, day.done, strict=True)}
        yield {"on": _on(built, day.day), **done}


def _hours(slots: float) -> float:
    return round(slots / HOUR_SLOTS, 2)


def day_of_end(built: Built, slot: Slot) -> str | None:
    """Give the local day on which something ends: what ends at midnight ends on the day before."""
    if slot >= NEVER:
        return None
    return _on_of(
        built, built.clock.at(slot) - timedelta(seconds=1) if slot > 0 else built.clock.at(0)
    )


def _on(built: Built, slot: Slot) -> str:
    return _on_of(built, built.clock.at(slot))


def _on_of(built: Built, at: datetime) -> str:
    return at.astimezone(ZoneInfo(built.facts.time_zone)).date().isoformat()


def _at(at: datetime | None) -> str | None:
    return None if at is None else iso_of(at)
