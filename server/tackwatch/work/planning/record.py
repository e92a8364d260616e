"""What a refit has shown so far, in the slots of a project: the record from which a forecast is made."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tackwatch.plan.build.grid import HOUR_SLOTS
from tackwatch.plan.build.parts import Part
from tackwatch.plan.build.project import Built
from tackwatch.plan.forecast import DayDone, FoundWhile, Record, Took
from tackwatch.work.planning.past import Past


def record_of(past: Past, built: Built) -> Record:
    """Give the record that a forecast takes, in the slots of a project."""
    zone = ZoneInfo(built.facts.time_zone)
    steps = {part.step.id: part for part in built.parts.values()}
    ids = {id_: part.step.job_id for part in steps.values() for id_ in _ids(part)}
    outdoors = {id_ for part in steps.values() if part.step.weather_open for id_ in part.ids}
    return Record(
        job_of=ids,
        afloat=past.afloat,
        took=tuple(Took(*one) for one in past.took),
        found_while=tuple(FoundWhile(*one) for one in past.found_while),
        found_labour=tuple(hours * HOUR_SLOTS for hours in past.found_labour_h),
        outdoors=frozenset(outdoors),
        days=tuple(_days(built, zone)),
        done=tuple(
            DayDone(built.clock.up(_midnight(on, zone)), hours * HOUR_SLOTS)
            for on, hours in past.done_h
        ),
    )


def _ids(part: Part) -> tuple[str, ...]:
    return part.ids if part.laid_id is None else (*part.ids, part.laid_id)


def _days(built: Built, zone: ZoneInfo) -> Iterator[int]:
    """Give the slots at which the local days of the project begin, and the day before them."""
    on = built.clock.at(0).astimezone(zone).date()
    while (slot := built.clock.up(_midnight(on, zone))) <= built.project.grid.slots:
        yield slot
        on += timedelta(days=1)


def _midnight(on: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(on, time(0), zone)
