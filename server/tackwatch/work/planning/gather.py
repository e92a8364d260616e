"""From a refit's rows to the facts that a plan is made from.

Rules
-----
- Those work who are owner or hand. A person's hours are their own where they say any, else the refit's.
- An absence of nobody in particular shuts the yard. One whose last day is before its first is none.
- A skill that was deleted is asked of nobody.
- A step's zone is its job's; its profile is that of the product that it names, where it can be read.
- What people were told of a step is its planned start, end and people. The pieces of long work are those of the plan
  that was published last, where it gave the same start and end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from tackwatch.merge.state import Item
from tackwatch.plan.facts import (
    DaysOff,
    Facts,
    Member,
    RefitLink,
    RefitStep,
    ToldPiece,
    Zone,
)
from tackwatch.trade.temperature import track_of
from tackwatch.work.planning.laid import laid_of, profile_in
from tackwatch.work.planning.rows import PlanRows, skills_of
from tackwatch.work.reckoning.rows import at_of
from tackwatch.work.reckoning.sources import curve_of, readings_of

DAY_STARTS, DAY_ENDS, WORK_DAYS = "08:00", "17:00", "12345"
Pieces = Sequence[Mapping[str, Any]]


def facts_of(rows: PlanRows, told: Mapping[str, Pieces] | None = None) -> Facts:
    """Give the facts of a refit.

    Parameters
    ----------
    rows
        The refit's rows.
    told
        The pieces of steps in the plan that was published last, by step.
    """
    begun = [source.start_at for sources in rows.coats.values() for source in sources]
    return Facts(
        now_at=rows.now,
        launch_at=at_of(rows.refit.fields["launch_at"]),
        time_zone=str(rows.refit.fields["time_zone"]),
        track=track_of(
            readings_of(rows.sorted), curve_of(rows.refit, rows.now), min([*begun, rows.now])
        ),
        members=_members(rows),
        steps=tuple(
            _step(rows, step, (told or {}).get(step.id, ())) for step in rows.steps.values()
        ),
        links=_links(rows),
        zones=tuple(_zone(zone) for zone in rows.sorted.live("zone").values()),
        closed=_away(rows, None),
    )


def hours_of(member: Item, refit: Item) -> tuple[str, str, str]:
    """Give when somebody's day starts and ends, and the days of the week on which they work."""
    names = (("day_starts", DAY_STARTS), ("day_ends", DAY_ENDS), ("work_days", WORK_DAYS))
    own = (member.fields.get(name) for name, _ in names)
    common = (refit.fields.get(name) for name, _ in names)
    start, end, days = (
        mine if mine is not None else theirs if theirs is not None else default
        for mine, theirs, (_, default) in zip(own, common, names, strict=True)
    )
    return str(start), str(end), str(days)


def absences(rows: PlanRows) -> list[tuple[str | None, str, str]]:
    """Give whose each absence is, its first and its last day."""
    found = []
    for one in rows.sorted.live("away").values():
        first, last = str(one.fields["from_on"]), str(one.fields["to_on"])
        if first <= last:
            found.append((one.fields.get("member_id"), first, last))
    return sorted(found, key=lambda one: (one[0] or "", *one[1:]))


def _away(rows: PlanRows, member_id: str | None) -> tuple[DaysOff, ...]:
    return tuple(
        DaysOff(date.fromisoformat(first), date.fromisoformat(last))
        for whose, first, last in absences(rows)
        if whose == member_id
    )


def _members(rows: PlanRows) -> tuple[Member, ...]:
    found = []
    for member in rows.workers.values():
        starts, ends, days = hours_of(member, rows.refit)
        found.append(
            Member(
                id=member.id,
                day_starts=time.fromisoformat(starts),
                day_ends=time.fromisoformat(ends),
                work_days=frozenset(map(int, days)),
                skills=skills_of(member, rows.sorted.live("skill")),
                away=_away(rows, member.id),
            )
        )
    return tuple(found)


def _zone(zone: Item) -> Zone:
    return Zone(zone.id, zone.fields.get("holds"), zone.fields.get("area_m2"))


def _links(rows: PlanRows) -> tuple[RefitLink, ...]:
    return tuple(
        RefitLink(link.step_id, link.after_id, link.min_gap_s, link.max_gap_s, link.by_cure)
        for link in rows.sorted.links
        if link.step_id in rows.steps and link.after_id in rows.steps
    )


def _step(rows: PlanRows, step: Item, told: Pieces) -> RefitStep:
    fields, job = step.fields, rows.jobs[step.fields["job_id"]].fields
    coats = rows.coats.get(step.id, [])
    expected = fields.get("expected_at")
    return RefitStep(
        id=step.id,
        job_id=str(fields["job_id"]),
        kind=str(fields["kind"]),
        state=rows.state_of(step.id),
        zone_id=job.get("zone_id") if job.get("zone_id") in rows.sorted.live("zone") else None,
        labour_h=fields.get("labour_h"),
        worked_h=rows.hours.get(step.id, 0.0),
        crew_size=int(fields.get("crew_size") or 1),
        skills=skills_of(step, rows.sorted.live("skill")),
        profile=profile_in(rows.product_of(step)),
        assignees=tuple(id_ for id_ in sorted(step.sets.get("assignees", {})) if id_ in rows.workers),
        afloat_ok=bool(job.get("afloat_ok")),
        weather_open=bool(fields.get("weather_open")),
        held=fields.get("held") is not None,
        expected_at=at_of(expected) if expected else None,
        started_at=rows.started.get(step.id),
        finished_at=_finished_at(rows, step.id),
        laid=laid_of(step, coats, rows.laid_m2.get(step.id)),
        at_it=tuple(sorted({id_ for one in coats if one.open for id_ in one.authors} & {*rows.workers})),
        told=_told(rows, step, told),
    )  # fmt: skip


def _finished_at(rows: PlanRows, step_id: str) -> datetime | None:
    """Give from when gaps count: the end of the step's last coat, else its tick."""
    ends = [one.end_at for one in rows.coats.get(step_id, ()) if one.end_at is not None]
    return max(ends, default=rows.ticked.get(step_id))


def _told(rows: PlanRows, step: Item, pieces: Pieces) -> tuple[ToldPiece, ...]:
    if not step.fields.get("planned_start_at"):
        return ()
    people = tuple(id_ for id_ in sorted(step.sets.get("assignees", {})) if id_ in rows.workers)
    start_at, end_at = _told_at(step)
    known = tuple(
        ToldPiece(
            at_of(one["start_at"]),
            at_of(one["end_at"]),
            tuple(id_ for id_ in one["member_ids"] if id_ in people),
        )
        for one in pieces
    )
    if known and (known[0].start_at, known[-1].end_at) == (start_at, end_at):
        each = [one.member_ids for one in known]
        if all(each) and {id_ for ids in each for id_ in ids} == {*people}:
            return known
    return (ToldPiece(start_at, end_at, people),)


def _told_at(step: Item) -> tuple[datetime, datetime]:
    """Give from when to when a step is planned; without an end by its estimate."""
    start, end = at_of(step.fields["planned_start_at"]), step.fields.get("planned_end_at")
    if end:
        return start, at_of(end)
    labour_h = step.fields.get("labour_h") or 1
    return start, start + timedelta(hours=labour_h / (step.fields.get("crew_size") or 1))
