"""May I coat now? A person asks it of a step of a refit; the answer comes from the refit's own rows."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from tackwatch.store import rows
from tackwatch.trade.readiness import may_coat_now
from tackwatch.trade.sums.schema import as_json
from tackwatch.trade.warnings import iso_of
from tackwatch.work.errors import ConflictError, NotFoundError
from tackwatch.work.reckon import ITEM_KINDS, RECORD_KINDS
from tackwatch.work.reckoning import reckon
from tackwatch.work.reckoning.coat_facts import CoatFactsOf, lays
from tackwatch.work.reckoning.rows import RefitRows


def readiness(refit_id: str, step_id: str, now: datetime) -> dict[str, Any]:
    """Say whether a step's coat may go on now, as JSON-ready objects.

    Raises
    ------
    NotFoundError
        When the refit has no such step.
    ConflictError
        When the step lays nothing.
    """
    items = rows.items(refit_id, ITEM_KINDS)
    records = rows.records(refit_id, RECORD_KINDS)
    refit = RefitRows(items, records)
    step = refit.live("step").get(step_id)
    if step is None:
        raise NotFoundError("unknown-step", "There is no such step.", "step_id")
    if not lays(step):
        raise ConflictError("lays-nothing", "This step lays no coat.", "step_id")
    reckoning = reckon(items, records, now)
    gathered = CoatFactsOf(refit, reckoning.sources, dict(reckoning.steps), now)
    asked = gathered.question(step_id)
    answer: dict[str, Any] = as_json(may_coat_now(asked.facts, asked.track))
    return {
        "step_id": step_id,
        "at": iso_of(now),
        "over": asked.facts.over,
        "below_step_id": asked.below_step_id,
        **answer,
    }
