"""A person's own alarms: what is to come, what was told, seen, done or missed lately, and who was told when.

What may be handed on to a person some day is not theirs yet: it is listed from when they were told.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from tackwatch.store import alarms as rows
from tackwatch.store.alarms import AlarmRow
from tackwatch.trade.warnings import iso_of
from tackwatch.work.missed import KIND as MISSED
from tackwatch.work.missed import still_unseen

LATELY = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Telling:
    """That somebody was told of an alarm, and whether they saw it."""

    member_id: str
    told_at: datetime
    seen_at: datetime | None


@dataclass(frozen=True, slots=True)
class MyAlarm:
    """One alarm; ``state`` is ``due``, ``told``, ``seen``, ``done`` or ``missed``."""

    alarm_id: str
    kind: str
    source_id: str
    due_at: datetime
    useless_after: datetime
    params: Mapping[str, Any]
    state: str
    told_at: datetime | None
    seen_at: datetime | None
    trace: Sequence[Telling]


def my_alarms(refit_id: str, member_id: str, now: datetime) -> list[MyAlarm]:
    """Give a member's alarms in the order in which they are due; withdrawn ones are left out."""
    mine = [row for row in rows.listed(refit_id, member_id, now - LATELY) if _is_theirs(row)]
    trace: dict[str, list[Telling]] = defaultdict(list)
    for row in rows.tellings(refit_id, [row.alarm_id for row in mine]):
        trace[row.alarm_id].append(Telling(row.member_id, _told_at(row), row.seen_at))
    seen = [(row.alarm_id, iso_of(row.due_at)) for row in mine if row.state in ("seen", "done")]
    return [_mine(_fresh(row, seen), trace[row.alarm_id]) for row in mine]


def _fresh(row: AlarmRow, seen: Sequence[tuple[str, str]]) -> AlarmRow:
    """Leave out of a notice of missed alarms what its person has seen since."""
    return replace(row, params=still_unseen(row.params, seen)) if row.kind == MISSED else row


def _told_at(row: AlarmRow) -> datetime:
    """Give when somebody was told of the alarm itself, not of its being called off."""
    text = row.params.get("was_told_at")
    return datetime.fromisoformat(text) if text else row.told_at or row.due_at


def _is_theirs(row: AlarmRow) -> bool:
    called_off = "withdrawn" in row.params and row.state != "done"
    return not called_off and not ("handed_from" in row.params and row.told_at is None)


def _mine(row: AlarmRow, trace: Sequence[Telling]) -> MyAlarm:
    return MyAlarm(
        alarm_id=row.alarm_id,
        kind=row.kind,
        source_id=row.source_id,
        due_at=row.due_at,
        useless_after=row.useless_after,
        params=row.params,
        state="due" if row.state == "claimed" else row.state,
        told_at=row.told_at,
        seen_at=row.seen_at,
        trace=trace,
    )
