"""The rows of alarms: what stands for a refit, the atomic claim under a lease, and the next due instant.

Rules
-----
- A claim is one ``UPDATE ... RETURNING`` over rows that are due or whose lease has ended: whoever comes second finds
  nothing. PostgreSQL skips rows that another process is just taking (``FOR UPDATE SKIP LOCKED``); on SQLite the
  transaction holds the write lock.
- What a holder writes afterwards is fenced by its name and the number of the attempt: a process that slept past its
  lease changes nothing any more.
- A row that waits for another try stays ``claimed`` by nobody, with the instant of the try as the end of its lease.
- What a holder writes calls no other process (``store.calls``): it has seen the row, and looks when the lease ends.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, func, insert, literal_column, or_, select, update

from tackwatch.store.calls import SILENT
from tackwatch.store.db import db
from tackwatch.store.models import Alarm

OPEN = ("due", "claimed")
LATE = timedelta(seconds=1)  # less than that late counts as in time
Key = tuple[str, str]  # member_id, alarm_id
# literals, not parameters: only so may both databases use the partial indexes
_IS_DUE: ColumnElement[bool] = literal_column("alarm.state = 'due'")
_IS_CLAIMED: ColumnElement[bool] = literal_column("alarm.state = 'claimed'")


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """An alarm as it is stored."""

    id: int
    refit_id: str
    member_id: str
    alarm_id: str
    kind: str
    source_id: str
    due_at: datetime
    useless_after: datetime
    params: dict[str, Any]
    state: str
    claimed_by: str | None
    lease_until: datetime | None
    attempts: int
    told_at: datetime | None
    seen_at: datetime | None
    outcome: dict[str, Any]


_COLUMNS = tuple(getattr(Alarm, name) for name in AlarmRow.__slots__)


def of_refit(refit_id: str) -> list[AlarmRow]:
    """Give all alarms of a refit, inside its writing transaction; those that a process may touch are locked."""
    touched = or_(Alarm.state.in_(OPEN), Alarm.claimed_by.is_not(None))
    mine = select(*_COLUMNS).where(Alarm.refit_id == refit_id).order_by(Alarm.id)
    rows = [*db.session.execute(mine.where(touched).with_for_update())]
    held = {row.id for row in rows}
    rows += [row for row in db.session.execute(mine.where(~touched)) if row.id not in held]
    return [AlarmRow(*row) for row in rows]


def add(rows: Sequence[dict[str, Any]]) -> None:
    """Add new alarms in one go."""
    if rows:
        db.session.execute(insert(Alarm), list(rows))


def change(rows: Sequence[dict[str, Any]]) -> None:
    """Change alarms in one go; each entry has ``id`` and the same other columns."""
    if rows:
        db.session.execute(update(Alarm), list(rows))


def claim(owner: str, now: datetime, lease_until: datetime, most: int) -> list[AlarmRow]:
    """Take up to ``most`` alarms that are due, those of dead or waiting claims first."""
    lapsed = and_(_IS_CLAIMED, Alarm.lease_until <= now)
    due = and_(_IS_DUE, Alarm.due_at <= now)
    taken = _take(lapsed, Alarm.lease_until, owner, lease_until, most)
    if len(taken) < most:
        taken += _take(due, Alarm.due_at, owner, lease_until, most - len(taken))
    return sorted(taken, key=lambda row: (row.due_at, row.id))


def _take(
    which: ColumnElement[bool], by: Any, owner: str, until: datetime, most: int
) -> list[AlarmRow]:
    picked = (
        select(Alarm.id).where(which).order_by(by).limit(most).with_for_update(skip_locked=True)
    ).cte("picked")
    taking = (
        update(Alarm)
        .where(Alarm.id.in_(select(picked.c.id)))
        .values(state="claimed", claimed_by=owner, lease_until=until, attempts=Alarm.attempts + 1)
        .returning(*_COLUMNS)
        .execution_options(synchronize_session=False, **SILENT)
    )
    return [AlarmRow(*row) for row in db.session.execute(taking)]


def holders(now: datetime) -> set[str]:
    """Give the names of those who hold claims whose lease has not ended."""
    held = select(Alarm.claimed_by).where(
        _IS_CLAIMED, Alarm.lease_until > now, Alarm.claimed_by.is_not(None)
    )
    return {str(name) for name in db.session.scalars(held.distinct())}


def end_leases(names: Collection[str], now: datetime) -> int:
    """End the leases of these holders; give how many claims they had."""
    ending = (
        update(Alarm)
        .where(_IS_CLAIMED, Alarm.claimed_by.in_(names), Alarm.lease_until > now)
        .values(lease_until=now)
        .returning(Alarm.id)
        .execution_options(synchronize_session=False, **SILENT)
    )
    return len([*db.session.scalars(ending)])


def next_look_at() -> datetime | None:
    """Give the earliest instant at which an alarm falls due or a lease ends."""
    due = db.session.scalar(select(func.min(Alarm.due_at)).where(_IS_DUE))
    lease = db.session.scalar(select(func.min(Alarm.lease_until)).where(_IS_CLAIMED))
    return min((at for at in (due, lease) if at is not None), default=None)


@dataclass(frozen=True, slots=True)
class Ended:
    """How a claim ended: the state that follows, how each channel did, and for which due instant it was told.

    ``try_at``: it is to be tried again then.
    """

    held: AlarmRow
    state: str
    channels: dict[str, Any]
    told_for: datetime | None = None
    try_at: datetime | None = None


def settle(ended: Sequence[Ended], *, aloud: bool = False) -> dict[int, str]:
    """Write down how claims ended, but for those that somebody else has by now.

    What was withdrawn or seen meanwhile keeps that state, and still remembers that it was told.

    Parameters
    ----------
    aloud
        Whether other processes are called, because this one will not try again what is to be tried again.

    Returns
    -------
    The states in which they were found, by the alarms' ids.
    """
    query = (
        select(Alarm.id, Alarm.state, Alarm.outcome, Alarm.claimed_by, Alarm.attempts)
        .where(
            Alarm.id.in_([one.held.id for one in ended]),
            Alarm.claimed_by.in_({one.held.claimed_by for one in ended}),
        )
        .order_by(Alarm.id)
        .with_for_update()
    )
    found = {(row.id, row.claimed_by, row.attempts): row for row in db.session.execute(query)}
    keys = [(one.held.id, one.held.claimed_by, one.held.attempts) for one in ended]
    new = [_as_ended(one, found[key]) for one, key in zip(ended, keys, strict=True) if key in found]
    if new:
        db.session.execute(update(Alarm), new, execution_options={} if aloud else SILENT)
    return {key[0]: str(found[key].state) for key in keys if key in found}


def _as_ended(one: Ended, now: Any) -> dict[str, Any]:
    outcome = {**now.outcome, "channels": one.channels}
    if one.told_for is not None:
        outcome["told_for"] = one.told_for.isoformat(timespec="milliseconds")
    return {
        "id": one.held.id,
        "outcome": outcome,
        "claimed_by": None,
        "lease_until": one.try_at,
        "state": one.state if now.state == "claimed" else now.state,
    }


def put_back(told: Mapping[tuple[str, str, str], datetime]) -> None:
    """Let handings on wait their full time where the first person was told later than planned.

    Parameters
    ----------
    told
        When each member was told of each alarm, by refit, member and alarm id.
    """
    handed = select(Alarm.id, Alarm.refit_id, Alarm.alarm_id, Alarm.params, Alarm.due_at).where(
        Alarm.refit_id.in_({refit_id for refit_id, _, _ in told}),
        Alarm.alarm_id.in_({alarm_id for _, _, alarm_id in told}),
        Alarm.state == "due",
    )
    later = []
    for row in db.session.execute(handed):
        at = told.get((row.refit_id, str(row.params.get("handed_from")), row.alarm_id))
        if at is not None:
            due_at = at + timedelta(seconds=float(row.params["handed_after_s"]))
            later += [{"id": row.id, "due_at": due_at}] if due_at > row.due_at else []
    if later:
        db.session.execute(update(Alarm), later, execution_options=SILENT)


def hold_back(handed: Sequence[AlarmRow], now: datetime) -> None:
    """Give claimed handings on back whose first person was not told yet, or not for the full time.

    After an outage they all fall due at once: the next one still waits until the first had time to see it.
    """
    if not handed:
        return
    first = _firsts(handed)
    for row in handed:
        giver = first.get((row.refit_id, str(row.params["handed_from"]), row.alarm_id))
        if giver is None:
            continue
        told = giver.told_at is not None and giver.told_at >= giver.due_at
        if not told and giver.state not in OPEN:
            continue  # nobody could tell them
        due_at = (giver.told_at if told else now) + timedelta(
            seconds=float(row.params["handed_after_s"])
        )
        if due_at > now + LATE:
            _give_back(row, due_at)


def _firsts(handed: Sequence[AlarmRow]) -> dict[tuple[str, str, str], Any]:
    query = select(
        Alarm.refit_id, Alarm.member_id, Alarm.alarm_id, Alarm.state, Alarm.told_at, Alarm.due_at
    ).where(
        Alarm.refit_id.in_({row.refit_id for row in handed}),
        Alarm.alarm_id.in_({row.alarm_id for row in handed}),
        Alarm.member_id.in_({str(row.params["handed_from"]) for row in handed}),
    )
    return {(row.refit_id, row.member_id, row.alarm_id): row for row in db.session.execute(query)}


def _give_back(held: AlarmRow, due_at: datetime) -> None:
    giving = (
        update(Alarm)
        .where(
            Alarm.id == held.id,
            Alarm.claimed_by == held.claimed_by,
            Alarm.attempts == held.attempts,
            Alarm.state == "claimed",
        )
        .values(state="due", due_at=due_at, claimed_by=None, lease_until=None)
        .execution_options(synchronize_session=False, **SILENT)
    )
    db.session.execute(giving)


def told_at(refit_id: str) -> dict[Key, datetime]:
    """Give when each member was told of each alarm for the instant at which it is due now."""
    query = select(Alarm.member_id, Alarm.alarm_id, Alarm.told_at).where(
        Alarm.refit_id == refit_id, Alarm.told_at >= Alarm.due_at
    )
    return {(row.member_id, row.alarm_id): row.told_at for row in db.session.execute(query)}


def tellings(refit_id: str, alarm_ids: Collection[str]) -> list[AlarmRow]:
    """Give everybody's rows of these alarms, those told first in front."""
    query = (
        select(*_COLUMNS)
        .where(
            Alarm.refit_id == refit_id, Alarm.alarm_id.in_(alarm_ids), Alarm.told_at.is_not(None)
        )
        .order_by(Alarm.told_at, Alarm.id)
    )
    return [AlarmRow(*row) for row in db.session.execute(query)]


def listed(refit_id: str, member_id: str, since: datetime) -> list[AlarmRow]:
    """Give a member's alarms that stand and were not due before an instant, in the order in which they are due."""
    query = (
        select(*_COLUMNS)
        .where(
            Alarm.refit_id == refit_id,
            Alarm.member_id == member_id,
            Alarm.state != "withdrawn",
            Alarm.due_at >= since,
        )
        .order_by(Alarm.due_at, Alarm.id)
    )
    return [AlarmRow(*row) for row in db.session.execute(query)]
