"""A person's own alarms: what is to come, and what was told, seen or missed lately."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from tackwatch.store import alarms as rows
from tackwatch.store.alarms import AlarmRow

LATELY = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class MyAlarm:
    """One alarm; ``state`` is ``due``, ``told``, ``seen`` or ``missed``."""

    alarm_id: str
    kind: str
    source_id: str
    due_at: datetime
    useless_after: datetime
    params: Mapping[str, Any]
    state: str
    told_at: datetime | None
    seen_at: datetime | None


def my_alarms(refit_id: str, member_id: str, now: datetime) -> list[MyAlarm]:
    """Give a member's alarms in the order in which they are due; withdrawn ones are left out."""
    return [_mine(row) for row in rows.listed(refit_id, member_id, now - LATELY)]


def _mine(row: AlarmRow) -> MyAlarm:
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
    )
