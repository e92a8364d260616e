"""Counts of what was sent and of what is due, read from the rows: right whatever processes there are.

Rules
-----
- A count is a row that is added in the transaction in which what it counts ends. Nobody waits for anybody there, as
  they would for a row that all change.
- Folding takes rows and puts their sums in their place in one transaction; a second who folds at once finds none.
- What is older than the days that are shown keeps its sums without refit and day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, delete, func, insert, literal_column, select, true

from tackwatch.store.db import db
from tackwatch.store.models import Alarm, Tally

_IS_DUE: ColumnElement[bool] = literal_column("alarm.state = 'due'")
_IS_CLAIMED: ColumnElement[bool] = literal_column("alarm.state = 'claimed'")
_SORT = (Tally.channel, Tally.result, Tally.late_le)
_SUMS = (func.sum(Tally.count), func.sum(Tally.late_ms))


@dataclass(frozen=True, slots=True)
class Count:
    """So many endings of one sort on one channel; ``late_le`` and ``late_ms`` as in the table."""

    channel: str
    result: str
    late_le: str
    count: int
    late_ms: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """Alarms that are not told yet: to come; due now, and ``overdue`` of them; with a process; waiting for a try."""

    to_come: int
    due: int
    overdue: int
    claimed: int
    retrying: int


def add(refit_id: str, day: str, counts: Iterable[Count]) -> None:
    """Add counts of a refit's day."""
    rows = [
        {
            "refit_id": refit_id,
            "day": day,
            "channel": one.channel,
            "result": one.result,
            "late_le": one.late_le,
            "count": one.count,
            "late_ms": one.late_ms,
        }
        for one in counts
    ]
    if rows:
        db.session.execute(insert(Tally), rows)


def sums() -> list[Count]:
    """Give the sums of everything that was ever counted here."""
    query = select(*_SORT, *_SUMS).group_by(*_SORT).order_by(*_SORT)
    return [_count(row) for row in db.session.execute(query)]


def sums_of(refit_id: str, from_day: str) -> list[Count]:
    """Give a refit's sums from a day on."""
    query = (
        select(*_SORT, *_SUMS)
        .where(Tally.refit_id == refit_id, Tally.day >= from_day)
        .group_by(*_SORT)
        .order_by(*_SORT)
    )
    return [_count(row) for row in db.session.execute(query)]


def fold(before_day: str) -> None:
    """Put sums in the place of rows; those of days before ``before_day`` lose refit and day."""
    taken = delete(Tally).returning(Tally.refit_id, Tally.day, *_SORT, Tally.count, Tally.late_ms)
    sums_: dict[tuple[str, ...], list[int]] = defaultdict(lambda: [0, 0])
    for refit_id, day, channel, result, late_le, count, late_ms in db.session.execute(taken):
        whose = ("", "") if day < before_day else (refit_id, day)
        found = sums_[(*whose, channel, result, late_le)]
        found[0] += count
        found[1] += late_ms
    names = ("refit_id", "day", "channel", "result", "late_le")
    rows: list[dict[str, Any]] = [
        {**dict(zip(names, key, strict=True)), "count": count, "late_ms": late_ms}
        for key, (count, late_ms) in sorted(sums_.items())
    ]
    if rows:
        db.session.execute(insert(Tally), rows)


def rows_counted() -> int:
    """Give how many rows the counts take."""
    return int(db.session.scalar(select(func.count()).select_from(Tally)) or 0)


def waiting(now: datetime, late: timedelta, refit_id: str | None = None) -> Waiting:
    """Count the alarms that are not told yet, of one refit or of all; ``overdue`` is what nobody took for so long."""
    mine = true() if refit_id is None else Alarm.refit_id == refit_id

    def count(*which: ColumnElement[bool]) -> int:
        query = select(func.count()).select_from(Alarm).where(mine, *which)
        return int(db.session.scalar(query) or 0)

    lapsed = count(_IS_CLAIMED, Alarm.lease_until <= now - late)
    return Waiting(
        to_come=count(_IS_DUE, Alarm.due_at > now),
        due=count(_IS_DUE, Alarm.due_at <= now),
        overdue=count(_IS_DUE, Alarm.due_at <= now - late) + lapsed,
        claimed=count(_IS_CLAIMED, Alarm.claimed_by.is_not(None)),
        retrying=count(_IS_CLAIMED, Alarm.claimed_by.is_(None)),
    )


def _count(row: Any) -> Count:
    channel, result, late_le, count, late_ms = row
    return Count(channel, result, late_le, int(count), int(late_ms))
