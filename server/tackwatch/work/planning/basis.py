"""What a plan rests on, small enough to be kept beside it and compared: so that a plan is made anew for a reason.

Rules
-----
- Of a step that is done nothing is compared any more: that work goes on as planned is no reason.
- ``found_job``: steps of a job that was not there. ``step_late``: a step that was not late before has not begun, or is
  not done, `SLACK` after it was planned. ``reading``: a clock that runs moved by more than `CLOCK_MOVED`, or the days
  to come are warmer or colder by more than `WARMER_K`. ``away``: who is there, and on which days. ``launch``: its
  instant. ``fields``: everything else that a plan is made of, times and people that were changed by hand with it.
- A plan is not given to the crew when anything changed since its rows were read but a reading, lateness, and jobs that
  it does not know: whoever was told something by hand shall not be told otherwise unseen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from json import dumps, loads
from typing import Any, Final

from tackwatch.merge.state import Item
from tackwatch.trade.temperature import track_of
from tackwatch.work.planning.gather import absences, hours_of
from tackwatch.work.planning.rows import PlanRows, skills_of
from tackwatch.work.reckoning.rows import at_of
from tackwatch.work.reckoning.sources import curve_of, readings_of

SLACK: Final = timedelta(minutes=30)
CLOCK_MOVED: Final = timedelta(minutes=30)
WARMER_K: Final = 2.0
CLOCKS_OVER: Final = timedelta(days=1)
WHY: Final = ("found_job", "step_late", "reading", "away", "fields", "launch")
_STEP: Final = (
    "job_id", "kind", "product_id", "tack", "labour_h", "crew_size", "held", "expected_at", "weather_open",
)  # fmt: skip
_CURVE: Final = ("curve_min_c", "curve_max_c", "curve_hour_of_max", "time_zone")

Basis = dict[str, Any]
Changed = dict[str, list[str]]


@dataclass(frozen=True, slots=True)
class Times:
    """Which steps are late by now, and when the next would be."""

    late: tuple[str, ...]
    next_at: datetime | None


def basis_of(rows: PlanRows) -> Basis:
    """Give what a plan made of these rows rests on, as JSON-ready objects."""
    left = {id_: step for id_, step in rows.steps.items() if not rows.is_done(id_)}
    return {
        "launch": rows.refit.fields["launch_at"],
        "curve": [rows.refit.fields.get(name) for name in _CURVE],
        "people": {id_: _person(rows, one) for id_, one in sorted(rows.workers.items())},
        "away": [list(one) for one in absences(rows)],
        "zones": {
            id_: [zone.fields.get("holds"), zone.fields.get("area_m2")]
            for id_, zone in sorted(rows.sorted.live("zone").items())
        },
        "steps": {id_: _step(rows, step) for id_, step in sorted(left.items())},
        "links": _links(rows, left),
        "told": {id_: told_of(step) for id_, step in sorted(left.items())},
        "done": sorted(rows.steps.keys() - left.keys()),
        "jobs": sorted({str(step.fields["job_id"]) for step in rows.steps.values()}),
        "clocks": _clocks(rows),
        "warmth": _warmth(rows),
        "late": list(times_of(rows).late),
    }


def told_of(step: Item) -> list[Any]:
    """Give what people were told of a step: start, end, and who."""
    fields = step.fields
    return [
        fields.get("planned_start_at"),
        fields.get("planned_end_at"),
        sorted(step.sets.get("assignees", {})),
    ]


def times_of(rows: PlanRows) -> Times:
    """Say which steps are late, and when the next would be if nothing is done."""
    late, ahead = [], []
    for id_, step in rows.steps.items():
        if rows.is_done(id_):
            continue
        begun = rows.has_begun(id_)
        planned = step.fields.get("planned_end_at" if begun else "planned_start_at")
        if not planned:
            continue
        at = at_of(planned) + SLACK
        if at <= rows.now:
            late.append(id_)
        else:
            ahead.append(at)
    return Times(tuple(sorted(late)), min(ahead, default=None))


def changed(before: Basis, after: Basis) -> Changed:
    """Give why a plan that rests on the one would be another on the other: codes with the ids that they are about."""
    done = {*after["done"]}
    new = {
        id_ for id_ in after["steps"] if id_ not in before["steps"] and id_ not in before["done"]
    }
    found = {id_ for id_ in new if after["steps"][id_]["job_id"] not in before["jobs"]}
    gone = {id_ for id_ in before["steps"] if id_ not in after["steps"] and id_ not in done}
    fields = (new - found) | gone | {id_ for id_ in after["steps"] if id_ in before["done"]}
    fields |= _differ(before["steps"], after["steps"]) | _differ(before["told"], after["told"])
    fields |= _differ(before["zones"], after["zones"]) | _differ(before["people"], after["people"])
    fields |= _links_differ(before, after, done | found)
    if before["curve"] != after["curve"]:
        fields.add("refit")
    away = before["people"].keys() ^ after["people"].keys()
    if before["away"] != after["away"]:
        away = away | {str(one[0] or "yard") for one in _either(before["away"], after["away"])}
    why: Changed = {
        "found_job": sorted(found),
        "step_late": sorted({*after["late"]} - {*before["late"]}),
        "reading": _moved_clocks(before, after),
        "away": sorted(away),
        "fields": sorted(fields),
        "launch": ["launch"] if before["launch"] != after["launch"] else [],
    }
    return {code: ids for code, ids in why.items() if ids}


def stands_against(before: Basis, after: Basis) -> Changed:
    """Give what changed that keeps a plan from being given to the crew."""
    why = changed(before, after)
    return {code: why[code] for code in ("away", "fields", "launch") if code in why}


def text_of(basis: Basis) -> str:
    """Give it as text."""
    return dumps(basis, ensure_ascii=False, separators=(",", ":"))


def read_basis(text: str) -> Basis:
    """Read it from text."""
    basis: Basis = loads(text)
    return basis


def _person(rows: PlanRows, member: Item) -> list[Any]:
    return [*hours_of(member, rows.refit), sorted(skills_of(member, rows.sorted.live("skill")))]


def _step(rows: PlanRows, step: Item) -> dict[str, Any]:
    job = rows.jobs[step.fields["job_id"]].fields
    product = rows.sorted.items["product"].get(step.fields.get("product_id") or "")
    profile = dumps(product.fields["profile"], sort_keys=True) if product is not None else ""
    return {
        **{name: step.fields.get(name) for name in _STEP},
        "skills": sorted(skills_of(step, rows.sorted.live("skill"))),
        "zone_id": job.get("zone_id"),
        "afloat_ok": bool(job.get("afloat_ok")),
        "profile": sha256(profile.encode()).hexdigest()[:12],
    }


def _links(rows: PlanRows, left: Mapping[str, Item]) -> list[list[Any]]:
    found = [
        [one.step_id, one.after_id, one.min_gap_s, one.max_gap_s, one.by_cure]
        for one in rows.sorted.links
        if one.step_id in left and one.after_id in rows.steps
    ]
    return sorted(found, key=lambda one: (one[0], one[1], dumps(one)))


def _links_differ(before: Basis, after: Basis, but: set[str]) -> set[str]:
    """Give the steps whose links are others, but for those that are done or new."""
    return {str(one[0]) for one in _either(before["links"], after["links"])} - but


def _either(one: list[list[Any]], other: list[list[Any]]) -> set[tuple[Any, ...]]:
    return {tuple(entry) for entry in one} ^ {tuple(entry) for entry in other}


def _differ(before: Mapping[str, Any], after: Mapping[str, Any]) -> set[str]:
    return {id_ for id_ in before.keys() & after.keys() if before[id_] != after[id_]}


def _clocks(rows: PlanRows) -> dict[str, float]:
    """Give the instants of clocks that are still to come, or were of late, in seconds since the epoch."""
    return {
        f"{source.id}.{clock.stage}": clock.governing_at.timestamp()
        for coats in rows.coats.values()
        for source in coats
        for clock in source.clocks
        if clock.governing_at is not None and clock.governing_at > rows.now - CLOCKS_OVER
    }


def _warmth(rows: PlanRows) -> list[float]:
    """Give how cold and how warm the days to come are taken to be."""
    track = track_of(readings_of(rows.sorted), curve_of(rows.refit, rows.now), rows.now)
    temps = [knot.temp_c for knot in track.knots[track.repeats_from :]]
    return [round(min(temps), 2), round(max(temps), 2)]


def _moved_clocks(before: Basis, after: Basis) -> list[str]:
    most_s = CLOCK_MOVED.total_seconds()
    both = before["clocks"].keys() & after["clocks"].keys()
    moved = [key for key in both if abs(before["clocks"][key] - after["clocks"][key]) > most_s]
    warmer = [
        abs(one - other) > WARMER_K
        for one, other in zip(before["warmth"], after["warmth"], strict=True)
    ]
    return sorted([*moved, *(["warmth"] if any(warmer) else [])])
