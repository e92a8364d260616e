"""When people work, in slots.

Rules
-----
* Hours are wall times of the refit's zone, each local day by itself: on the day on which the clock is
  changed at night the working day is as long as ever, and a night shift is an hour longer or shorter.
* A day that ends at or before its start ends on the next; days that touch are one span.
* Nobody works on a day on which they are away or the yard is closed, nor outside their weekdays. A
  night shift belongs to the day on which it begins.
* A break at noon is not planned; whoever eats, eats in between.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from tackwatch.plan.build.grid import SlotClock
from tackwatch.plan.facts import DaysOff, Member
from tackwatch.plan.model import Slot, Span


def open_spans(
    member: Member, closed: Iterable[DaysOff], zone: ZoneInfo, clock: SlotClock, slots: Slot
) -> tuple[Span, ...]:
    """Give the spans of slots in which somebody works, from slot 0 to a horizon.

    Parameters
    ----------
    member : Member
        The person.
    closed : iterable of DaysOff
        When the yard is closed to all.
    zone : ZoneInfo
        The refit's zone.
    clock : SlotClock
        The slots.
    slots : int
        The horizon.
    """
    off = (*member.away, *closed)
    spans: list[Span] = []
    for begin, end in _days(member, off, zone, clock, slots):
        if spans and begin <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((begin, end))
    return tuple(spans)


def _days(
    member: Member, off: tuple[DaysOff, ...], zone: ZoneInfo, clock: SlotClock, slots: Slot
) -> Iterator[Span]:
    day = clock.at(0).astimezone(zone).date() - timedelta(days=1)
    last = clock.at(slots).astimezone(zone).date()
    night = timedelta(days=member.day_ends <= member.day_starts)
    while day <= last:
        if day.isoweekday() in member.work_days and not _off(day, off):
            begin = clock.up(datetime.combine(day, member.day_starts, zone))
            end = clock.down(datetime.combine(day + night, member.day_ends, zone))
            if max(0, begin) < min(end, slots):
                yield max(0, begin), min(end, slots)
        day += timedelta(days=1)


def _off(day: date, off: tuple[DaysOff, ...]) -> bool:
    return any(one.from_on <= day <= one.to_on for one in off)
