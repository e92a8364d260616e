"""Telling people that steps of theirs changed when a plan was given to the crew: one notice each, and few words.

Rules
-----
- Whoever has a step now, or had it before, whose time or people changed is told; the one who gave it out is not.
- It goes the ways on which that person is told that a step is due, and waits for the end of their quiet hours.
- A person has one such notice: the next plan takes the place of what was not seen yet.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from tackwatch.store import missed as store
from tackwatch.work.notices import PLAN_CHANGED
from tackwatch.work.planning.rows import PlanRows
from tackwatch.work.reckoning.quiet import held_until
from tackwatch.work.reckoning.ring_rules import RingRules

USEFUL_FOR = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class StepChanged:
    """A step that is another than the crew was told: who had it, who has it, and when it begins."""

    step_id: str
    before: frozenset[str]
    after: frozenset[str]
    start_at: str


def tell(rows: PlanRows, changes: Iterable[StepChanged], by: str, now: datetime) -> None:
    """Enter the notices, in the transaction in which the plan is given out.

    Parameters
    ----------
    rows
        The refit's rows, as they were before.
    changes
        What changed.
    by
        Who gave the plan out.
    """
    theirs: dict[str, list[StepChanged]] = defaultdict(list)
    for change in changes:
        for member_id in (change.before | change.after) & rows.workers.keys() - {by}:
            theirs[member_id].append(change)
    rules = RingRules(rows.sorted)
    for member_id, mine in sorted(theirs.items()):
        _put(rows, rules, member_id, mine, by, now)


def _put(
    rows: PlanRows,
    rules: RingRules,
    member_id: str,
    mine: list[StepChanged],
    by: str,
    now: datetime,
) -> None:
    ring = rules.ring(rows.workers[member_id], "step_due")
    due_at = held_until(now, ring.quiet_from, ring.quiet_to, ring.zone)
    alarm_id = f"{member_id}.{PLAN_CHANGED}"
    values = {
        "refit_id": rows.refit_id,
        "member_id": member_id,
        "alarm_id": alarm_id,
        "kind": PLAN_CHANGED,
        "source_id": member_id,
        "due_at": due_at,
        "useless_after": due_at + USEFUL_FOR,
        "params": {
            "steps_n": len(mine),
            **_next(mine, member_id),
            "by": str(rows.workers[by].fields["name"]) if by in rows.workers else "",
            "by_push": ring.by_push,
            "by_mail": ring.by_mail,
            "by_webhook": ring.by_webhook,
        },
    }
    store.put_notice(store.notice_of(rows.refit_id, member_id, alarm_id), values)


def _next(mine: Iterable[StepChanged], member_id: str) -> Mapping[str, Any]:
    """Give when the first of the changed steps begins that are this person's now."""
    starts = [change.start_at for change in mine if member_id in change.after]
    return {"planned_start_at": min(starts)} if starts else {}
