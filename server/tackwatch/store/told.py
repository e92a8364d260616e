"""Which alarms open pages are shown: the instant of telling, rising in the order in which readers can see it.

Rules
-----
- ``told_at`` is set under the refit's lock and is greater than every one before it in that refit. A reader who has got
  to (instant, id) and asks for what comes after can therefore not pass over a row that was committed late.
- An alarm is told to the pages once for each due instant; a second holder of the claim leaves the instant alone.
- What was told late is handed on as much later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta

from sqlalchemy import case, func, literal, or_, select, update

from tackwatch.store.alarms import LATE, AlarmRow, hold_back, put_back
from tackwatch.store.calls import SILENT
from tackwatch.store.db import Instant, db
from tackwatch.store.models import Alarm, Refit

_STEP = timedelta(milliseconds=1)


def lock(refit_ids: Collection[str], *, wait: bool) -> set[str]:
    """Take the locks of refits until the transaction ends; give those that were had, without ``wait`` the free ones."""
    query = (
        select(Refit.id)
        .where(Refit.id.in_(refit_ids))
        .order_by(Refit.id)  # the same order for all, so that none waits for one that waits for it
        .with_for_update(skip_locked=not wait)
    )
    return set(db.session.scalars(query))


def show(held: Sequence[AlarmRow], now: datetime) -> set[int]:
    """Show claimed alarms to the open pages, inside a writing transaction that has the locks of their refits.

    Returns
    -------
    The ids of those that their holder still holds.
    """
    handed = [row for row in held if row.params.get("handed_from")]
    shown = _show_all([row for row in held if not row.params.get("handed_from")], now)
    hold_back(handed, now)  # after those who come first were told, and before the next
    return shown | _show_all(handed, now)


def _show_all(held: Sequence[AlarmRow], now: datetime) -> set[int]:
    last = _last_told({row.refit_id for row in held})
    groups: dict[tuple[datetime, str | None, int], list[AlarmRow]] = defaultdict(list)
    for row in held:
        before = last.get(row.refit_id)
        at = now if before is None else max(now, before + _STEP)
        groups[at, row.claimed_by, row.attempts].append(row)
    shown: set[int] = set()
    for (at, owner, attempts), rows in groups.items():
        ids = _show(rows, at, owner, attempts)
        shown |= ids
        _put_back_late((row for row in rows if row.id in ids), at)
    return shown


def _last_told(refit_ids: Collection[str]) -> dict[str, datetime]:
    # one seek in the index for each refit, where grouping would read all its alarms
    last = select(func.max(Alarm.told_at)).where(Alarm.refit_id == Refit.id).scalar_subquery()
    query = select(Refit.id, last).where(Refit.id.in_(refit_ids))
    return {id_: at for id_, at in db.session.execute(query) if at is not None}


def _show(rows: Sequence[AlarmRow], at: datetime, owner: str | None, attempts: int) -> set[int]:
    unshown = or_(Alarm.told_at.is_(None), Alarm.told_at < Alarm.due_at, Alarm.attempts == 1)
    showing = (
        update(Alarm)
        .where(
            Alarm.id.in_([row.id for row in rows]),
            Alarm.claimed_by == owner,
            Alarm.attempts == attempts,
            Alarm.state == "claimed",
        )
        .values(told_at=case((unshown, literal(at, Instant())), else_=Alarm.told_at))
        .returning(Alarm.id)
        .execution_options(synchronize_session=False, **SILENT)
    )
    return set(db.session.scalars(showing))


def _put_back_late(shown: Iterable[AlarmRow], at: datetime) -> None:
    late = [row for row in shown if at - row.due_at > LATE]
    if late:
        put_back({(row.refit_id, row.member_id, row.alarm_id): at for row in late})
