"""What a refit has shown so far, for the forecast: in hours and days, before there is a plan with slots.

Rules
-----
- An estimate and what it took: of steps that are finished, where both were written down. A coat that cures is finished
  unless it was laid in part, as for the plan.
- A job counts as looked into by the share of its estimated labour that is finished; what was found while doing it are
  the jobs that name it. What was found is reckoned by the labour of its steps.
- Nobody logs whether a day was wet, so the forecast's own belief about the weather stands.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from tackwatch.work.planning.rows import PlanRows


@dataclass(frozen=True, slots=True)
class Past:
    """What was estimated, took, was found and done; labour in hours.

    Attributes
    ----------
    took
        Of finished steps: the job, the estimate, and what it took.
    found_while
        Of jobs that are looked into: how many were found while doing it, and the share of it that is done.
    """

    took: tuple[tuple[str, float, float], ...]
    found_while: tuple[tuple[str, int, float], ...]
    found_labour_h: tuple[float, ...]
    done_h: tuple[tuple[date, float], ...]
    afloat: frozenset[str]


def past_of(rows: PlanRows) -> Past:
    """Give what a refit's rows show."""
    labour, finished = _labour(rows)
    found: dict[str, int] = defaultdict(int)
    for job in rows.jobs.values():
        if job.fields.get("found_while"):
            found[job.fields["found_while"]] += 1
    revealed = [id_ for id_, job in rows.jobs.items() if job.fields.get("found_while")]
    shares = {id_: finished[id_] / labour[id_] for id_ in labour if labour[id_] > 0}
    return Past(
        took=tuple(_took(rows)),
        found_while=tuple(
            (id_, found[id_], min(1.0, share)) for id_, share in sorted(shares.items()) if share > 0
        ),
        found_labour_h=tuple(labour[id_] for id_ in sorted(revealed) if labour[id_] > 0),
        done_h=tuple(sorted(_done(rows).items())),
        afloat=frozenset(id_ for id_, job in rows.jobs.items() if job.fields.get("afloat_ok")),
    )


def _labour(rows: PlanRows) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """Give the estimated labour of each job, and how much of it is finished."""
    labour: dict[str, float] = defaultdict(float)
    finished: dict[str, float] = defaultdict(float)
    for id_, step in rows.steps.items():
        hours = float(step.fields.get("labour_h") or 0)
        labour[step.fields["job_id"]] += hours
        if rows.is_done(id_):
            finished[step.fields["job_id"]] += hours
    return labour, finished


def _took(rows: PlanRows) -> Iterator[tuple[str, float, float]]:
    for id_, step in sorted(rows.steps.items()):
        estimate, actual = step.fields.get("labour_h"), rows.hours.get(id_)
        if rows.is_done(id_) and estimate and actual:
            yield str(step.fields["job_id"]), float(estimate), actual


def _done(rows: PlanRows) -> dict[date, float]:
    done: dict[date, float] = defaultdict(float)
    for one in rows.sorted.standing("hours"):
        body = one.record.body
        done[date.fromisoformat(body["worked_on"])] += float(body["minutes"]) / 60
    return {on: hours for on, hours in done.items() if hours > 0}
