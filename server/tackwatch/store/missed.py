"""Alarms that are of no use any more and were not told, and the one row in which a person is told of them.

Rules
-----
- What nobody holds is taken, and what somebody claimed when it was of no use already: that was never shown to a page.
  What is being delivered stays with its deliverer.
- Everything here happens under the refit's lock, inside a writing transaction.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, and_, literal_column, or_, select, update

from tackwatch.store.alarms import OPEN, AlarmRow, add, change
from tackwatch.store.db import db
from tackwatch.store.models import Alarm

# literals, not parameters: only so may both databases use the partial indexes
_IS_DUE: ColumnElement[bool] = literal_column("alarm.state = 'due'")
_IS_CLAIMED: ColumnElement[bool] = literal_column("alarm.state = 'claimed'")
_COLUMNS = tuple(getattr(Alarm, name) for name in AlarmRow.__slots__)


def refits_with_useless(now: datetime) -> list[str]:
    """Give the refits that have alarms of no use which nobody holds."""
    due = and_(_IS_DUE, Alarm.due_at <= now, Alarm.useless_after < now)
    lapsed = and_(_IS_CLAIMED, Alarm.lease_until <= now, Alarm.useless_after < now)
    found: set[str] = set()
    for which in (due, lapsed):
        # not DISTINCT: SQLite would walk through all alarms in the order of their refits
        found |= set(db.session.scalars(select(Alarm.refit_id).where(which)))
    return sorted(found)


def useless(refit_id: str, now: datetime) -> list[AlarmRow]:
    """Give a refit's alarms that are of no use and nobody delivers, locked."""
    unshown = or_(Alarm.told_at.is_(None), Alarm.told_at < Alarm.due_at)
    idle = or_(Alarm.state == "due", Alarm.lease_until <= now, unshown)
    query = (
        select(*_COLUMNS)
        .where(
            Alarm.refit_id == refit_id,
            Alarm.state.in_(OPEN),
            Alarm.due_at <= now,
            Alarm.useless_after < now,
            idle,
        )
        .order_by(Alarm.due_at, Alarm.id)
        .with_for_update()
    )
    return [AlarmRow(*row) for row in db.session.execute(query)]


def end(states: Sequence[tuple[AlarmRow, str]]) -> None:
    """Let alarms end in these states; whoever claimed them meanwhile has them no more."""
    values = [
        {"id": row.id, "state": state, "claimed_by": None, "lease_until": None}
        for row, state in states
    ]
    if values:
        db.session.execute(update(Alarm), values)


def notice_of(refit_id: str, member_id: str, alarm_id: str) -> AlarmRow | None:
    """Give a person's notice, locked; None where they never had one."""
    query = (
        select(*_COLUMNS)
        .where(Alarm.refit_id == refit_id, Alarm.member_id == member_id, Alarm.alarm_id == alarm_id)
        .with_for_update()
    )
    row = db.session.execute(query).one_or_none()
    return None if row is None else AlarmRow(*row)


def put_notice(before: AlarmRow | None, values: dict[str, Any]) -> None:
    """Make a person's notice, or let it be told anew."""
    fresh: dict[str, Any] = {
        "state": "due",
        "claimed_by": None,
        "lease_until": None,
        "attempts": 0,
        "outcome": {},
    }
    if before is None:
        add([{**values, **fresh}])
    else:
        change([{"id": before.id, **values, **fresh}])
