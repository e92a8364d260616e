"""Which alarms open pages are shown: the instant of telling, rising in the order in which readers can see it.

Rules
-----
- ``told_at`` is set under the refit's lock and is greater than every one before it in that refit. A reader who has got
  to (instant, id) and asks for what comes after can therefore not pass over a row that was committed late.
- An alarm is told to the pages once for each due instant; a second holder of the claim leaves the instant alone.
- What was told late is handed on as much later.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import and_, case, func, literal, or_, select, update

from tackwatch.store import refits
from tackwatch.store.alarms import AlarmRow, put_back
from tackwatch.store.db import Instant, db
from tackwatch.store.models import Alarm

_STEP = timedelta(milliseconds=1)
_LATE = timedelta(seconds=1)


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
    shown = set(db.session.scalars(showing))
    late = [row for row in held if row.id in shown and at - row.due_at > _LATE]
    if late:
        put_back(refit_id, {(row.member_id, row.alarm_id): at for row in late})
    return shown
