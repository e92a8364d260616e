"""How the server is: for everybody in a few figures, for an owner about their own refit, for whoever watches over it.

Rules
-----
- Everything is read from the database: what it says is right whichever processes there are, and whichever is asked.
- What everybody may see names no refit and no machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.metadata import version

from sqlalchemy.exc import SQLAlchemyError

from tackwatch.store import health as store
from tackwatch.store import schema
from tackwatch.store.db import db
from tackwatch.store.health import Count, Waiting
from tackwatch.work.caller import Caller
from tackwatch.work.errors import WorkError
from tackwatch.work.health_bell import Beat, bells, is_alive
from tackwatch.work.health_tally import ALARM, BOUNDS_S, CHANNELS, NO_BOUND, day_of

OVERDUE = timedelta(minutes=2)
SHOWN = timedelta(days=7)


class DatabaseAwayError(WorkError):
    """The database does not answer."""

    status = 503


@dataclass(frozen=True, slots=True)
class Bell:
    """An alarm process: ``alive`` while it keeps its promise to be heard of by ``next_beat_by``."""

    name: str
    alive: bool
    started_at: datetime
    beat_at: datetime
    next_beat_by: datetime


@dataclass(frozen=True, slots=True)
class Health:
    """How the server is. ``status``: ``ok``, ``schema-behind``, ``nobody-rings`` or ``overdue``."""

    status: str
    ok: bool
    version: str
    time: datetime
    bells: list[Bell]
    waiting: Waiting | None


@dataclass(frozen=True, slots=True)
class ChannelHealth:
    """What went out on a channel, how it ended, and how late: counts up to each bound in seconds."""

    channel: str
    sent: int
    failed: int
    refused: int
    dropped: int
    late_mean_s: float | None
    late_up_to: dict[str, int]


@dataclass(frozen=True, slots=True)
class RefitHealth:
    """How a refit's alarms were rung since an instant."""

    time: datetime
    since: datetime
    rings: bool
    bells: list[Bell]
    waiting: Waiting
    told: int
    missed: int
    channels: list[ChannelHealth]


@dataclass(frozen=True, slots=True)
class Figures:
    """All figures of the server, for those who watch over it."""

    bells: list[Bell]
    waiting: Waiting
    counts: list[Count]
    version: str


def health(now: datetime) -> Health:
    """Say how the server is.

    Raises
    ------
    DatabaseAwayError
        When the database does not answer.
    """
    try:
        if schema.present() != schema.newest():
            return Health("schema-behind", False, version("tackwatch"), now, [], None)
        found, alive = bells(now)
        waiting = store.waiting(now, OVERDUE)
        db.session.rollback()
    except SQLAlchemyError as error:
        raise DatabaseAwayError("database-away", "The database does not answer.") from error
    status = "ok" if alive and not waiting.overdue else "overdue" if alive else "nobody-rings"
    known = [_bell(one, now, short=True) for one in found]
    return Health(status, status == "ok", version("tackwatch"), now, known, waiting)


def refit_health(caller: Caller, now: datetime) -> RefitHealth:
    """Say how the alarms of the caller's refit were rung lately."""
    found, alive = bells(now)
    since = now - SHOWN
    counts = store.sums_of(caller.refit_id, day_of(since))
    waiting = store.waiting(now, OVERDUE, caller.refit_id)
    db.session.rollback()
    ended = {one.result: one.count for one in counts if one.channel == ALARM}
    return RefitHealth(
        time=now,
        since=since,
        rings=alive,
        bells=[_bell(one, now, short=True) for one in found],
        waiting=waiting,
        told=ended.get("told", 0),
        missed=ended.get("missed", 0),
        channels=[channel_health(name, counts) for name in CHANNELS],
    )


def figures(now: datetime) -> Figures:
    """Give all figures of the server."""
    found, _ = bells(now)
    waiting, counts = store.waiting(now, OVERDUE), store.sums()
    db.session.rollback()
    return Figures([_bell(one, now) for one in found], waiting, counts, version("tackwatch"))


def channel_health(name: str, counts: list[Count]) -> ChannelHealth:
    """Sum up one channel."""
    mine = [one for one in counts if one.channel == name]
    by_result = dict.fromkeys(("sent", "failed", "refused", "dropped"), 0)
    for one in mine:
        by_result[one.result] = by_result.get(one.result, 0) + one.count
    sent = by_result["sent"]
    late_ms = sum(one.late_ms for one in mine)
    up_to, so_far = {}, 0
    for bound in (*map(str, BOUNDS_S), NO_BOUND):
        so_far += sum(one.count for one in mine if one.late_le == bound)
        up_to[bound] = so_far
    return ChannelHealth(
        channel=name,
        sent=sent,
        failed=by_result["failed"],
        refused=by_result["refused"],
        dropped=by_result["dropped"],
        late_mean_s=late_ms / 1000 / sent if sent else None,
        late_up_to=up_to,
    )


def _bell(one: Beat, now: datetime, *, short: bool = False) -> Bell:
    name = one.name.rpartition(".")[2] if short else one.name
    return Bell(name, is_alive(one, now), one.started_at, one.beat_at, one.next_beat_by)
