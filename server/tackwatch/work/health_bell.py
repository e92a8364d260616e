"""Whether anybody rings the alarms: what alarm processes promise, and what follows when none does.

Rules
-----
- A process says at its rounds that it lives, at most twice a minute, and promises to say so again: as far ahead as it
  may sleep with nothing due, and a little more. It wakes for nothing else.
- Nobody rings when the last promise is past, or nobody ever promised, for half a minute: so long a restart may take.
- A web process asks at most each ten seconds, and writes into its log once when the ringing stops, and once when it
  goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta

import structlog

from tackwatch.store import heartbeats
from tackwatch.store.db import db, writing
from tackwatch.store.heartbeats import Beat
from tackwatch.work import health_tally

PROMISE = timedelta(minutes=6, seconds=30)
GRACE = timedelta(seconds=30)
REMEMBERED = timedelta(days=1)
_SELDOM = timedelta(seconds=30)
_ASK_EACH = timedelta(seconds=10)

_log = structlog.get_logger()


class Heart:
    """Says that an alarm process lives.

    Parameters
    ----------
    name
        The process's own name.
    now
        Its clock.
    """

    def __init__(self, name: str, now: Callable[[], datetime]) -> None:
        self._name, self._now = name, now
        self._started_at = now()
        self._beat_at: datetime | None = None

    def beat(self) -> None:
        """Say so, unless it was said a moment ago; call it in each round."""
        now = self._now()
        if self._beat_at is not None and timedelta(0) <= now - self._beat_at < _SELDOM:
            return
        with writing():
            heartbeats.beat(self._name, self._started_at, now, now + PROMISE)
            heartbeats.forget_before(now - REMEMBERED)
            health_tally.fold(now)
        self._beat_at = now

    def end(self) -> None:
        """Say that the process ends as it should."""
        with writing():
            heartbeats.end(self._name, self._now())


class Watch:
    """Whether anybody rings, as one web process knows it; where nobody ever did, from its first question on."""

    def __init__(self) -> None:
        self._began_at: datetime | None = None
        self._asked_at: datetime | None = None
        self._silent = False
        self._lock = threading.Lock()

    def is_silent(self, now: datetime) -> bool:
        """Say whether nobody rings the alarms, as of the last ten seconds."""
        with self._lock:
            began_at = self._began_at = self._began_at or now
            if self._asked_at is not None and timedelta(0) <= now - self._asked_at < _ASK_EACH:
                return self._silent
            self._asked_at = now
        is_silent = silent(now, began_at)  # nobody else waits while the database is asked
        with self._lock:
            self._note(is_silent)
            return self._silent

    def _note(self, is_silent: bool) -> None:
        if is_silent and not self._silent:
            _log.error("nobody rings the alarms: no alarm process runs")
        if self._silent and not is_silent:
            _log.info("the alarms are rung again")
        self._silent = is_silent


def silent(now: datetime, began_at: datetime) -> bool:
    """Say whether nobody rings: no promise holds, and none did a moment ago."""
    last = heartbeats.last_promise()
    db.session.rollback()
    since = began_at if last is None else max(last, began_at)
    return now > since + GRACE


def bells(now: datetime) -> tuple[list[Beat], bool]:
    """Give the alarm processes that are remembered, and whether one of them is alive."""
    found = heartbeats.known()
    return found, any(is_alive(one, now) for one in found)


def is_alive(one: Beat, now: datetime) -> bool:
    """Say whether a process keeps its promise so far."""
    return one.ended_at is None and now <= one.next_beat_by


__all__ = ["Beat", "Heart", "Watch", "bells", "is_alive", "silent"]
