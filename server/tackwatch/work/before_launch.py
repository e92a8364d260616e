"""What stands open before the launch, counted when the launch is near enough to be told of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.state import Item, Record
from tackwatch.store import rows
from tackwatch.trade.steps import Mark, standing_of
from tackwatch.work.reckoning.rows import RefitRows, at_of

NEAR = timedelta(days=8)
NAMED = 3


def standing_before_launch(
    refit_id: str, items: Mapping[str, Item], records: Iterable[Record], now: datetime
) -> dict[str, Any]:
    """Give ``open_n`` and the titles of the first open jobs; nothing while the launch is far off or past."""
    refit = items.get(refit_id)
    launch = refit.fields.get("launch_at") if refit else None
    if not launch or not now <= at_of(launch) <= now + NEAR:
        return {}
    titles = open_jobs(rows.items(refit_id, ("job", "step")), records)
    return {"open_n": len(titles), "open_titles": titles[:NAMED]}


def open_jobs(items: Iterable[Item], records: Iterable[Record]) -> list[str]:
    """Give the titles of the jobs that are to be done before the launch and are not, in the order of the board.

    A job is done when it has steps and all of them are finished or signed off.
    """
    refit = RefitRows(items, records)
    marks: dict[str, list[Mark]] = defaultdict(list)
    for one in refit.standing("mark"):
        body = one.record.body
        marks[body["step_id"]].append(Mark(body["mark"], at_of(body["marked_at"])))
    steps: dict[str, list[str]] = defaultdict(list)
    for step in refit.live("step").values():
        steps[step.fields["job_id"]].append(standing_of(marks[step.id]))
    jobs = [job for job in refit.live("job").values() if not job.fields.get("afloat_ok")]
    return [
        str(job.fields["title"])
        for job in sorted(jobs, key=lambda job: (job.fields.get("rank") or 0, job.at))
        if not steps[job.id] or set(steps[job.id]) - {"finished", "signed_off"}
    ]
