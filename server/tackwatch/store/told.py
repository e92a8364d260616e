"""Which alarms open pages are shown: the instant of telling, rising in the order in which readers can see it.

Rules
-----
- ``told_at`` is set under the refit's lock and is greater than every one before it in that refit. A reader who has got
  to (instant, id) and asks for what comes after can therefore not pass over a row that was committed late.
- An alarm is told to the pages once for each due instant; a second holder of the claim leaves the instant alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import and_, case, func, literal, or_, select, update

from tackwatch.store import refits
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.db import Instant, db
from tackwatch.store.models import Alarm

_STEP = timedelta(milliseconds=1)


@dataclass(frozen=True, slots=True)
class Told:
    """An alarm as an open page is shown it; (told_at, id) is the reader's place."""

    id: int
    told_at: datetime
    alarm_id: str
    kind: str
    source_id: str
    due_at: datetime
    useless_after: datetime
    params: dict[str, Any]


def show(refit_id: str, held: Sequence[AlarmRow], now: datetime) -> set[int]:
    """Show claimed alarms of one refit to its open pages, inside a writing transaction.

    Returns
    -------
    The ids of those that their holder still holds.
    """
    refits.lock(refit_id)
    last = db.session.scalar(select(func.max(Alarm.told_at)).where(Alarm.refit_id == refit_id))
    at = now if last is None else max(now, last + _STEP)
    fences = [
        and_(Alarm.id == row.id, Alarm.claimed_by == row.claimed_by, Alarm.attempts == row.attempts)
        for row in held
    ]
    unshown = or_(Alarm.told_at.is_(None), Alarm.told_at < Alarm.due_at, Alarm.attempts == 1)
    showing = (
        update(Alarm)
        .where(or_(*fences), Alarm.state == "claimed")
        .values(told_at=case((unshown, literal(at, Instant())), else_=Alarm.told_at))
        .returning(Alarm.id)
        .execution_options(synchronize_session=False)
    )
    return set(db.session.scalars(showing))


def since(refit_id: str, member_id: str, after: datetime, last_id: int) -> list[Told]:
    """Give a member's alarms that were told after a reader's place, in order."""
    columns = tuple(getattr(Alarm, name) for name in Told.__slots__)
    query = (
        select(*columns)
        .where(
            Alarm.refit_id == refit_id,
            Alarm.member_id == member_id,
            Alarm.state.in_(("claimed", "told")),
            or_(Alarm.told_at > after, and_(Alarm.told_at == after, Alarm.id > last_id)),
        )
        .order_by(Alarm.told_at, Alarm.id)
    )
    return [Told(*row) for row in db.session.execute(query)]
