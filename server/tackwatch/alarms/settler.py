"""Settling: how claims ended is written down by one thread, which takes along all that ended meanwhile.

Rules
-----
- A transaction is one wait for the disk, however many it settles; none waits for others to end too.
- What cannot be written (the database is away) is tried again while its lease lasts, one by one, so that one row that
  cannot be written takes none along. After that its alarm is told again, which is harmless.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import datetime

import structlog

from tackwatch.work.ring import Settled

MOST_AT_ONCE = 500
AGAIN_S = 1.0

_log = structlog.get_logger()


class Settler:
    """Writes down what ended.

    Parameters
    ----------
    write
        Writes in one transaction.
    now
        Tells the time.
    done
        Told how many alarms are off this bell's hands, after each transaction.
    """

    def __init__(
        self,
        write: Callable[[Sequence[Settled]], None],
        now: Callable[[], datetime],
        done: Callable[[int], None],
    ) -> None:
        self._write, self._now, self._done = write, now, done
        self._ended: list[Settled] = []
        self._changed = threading.Condition()
        self._stopping = False
        self._thread: threading.Thread | None = None

    def put(self, *ended: Settled) -> None:
        """Write these down soon."""
        if not ended:
            return
        with self._changed:
            self._ended += ended
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="settle", daemon=True)
                self._thread.start()
            self._changed.notify()

    def finish(self) -> None:
        """Write down what there is, and end."""
        with self._changed:
            self._stopping = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()

    def _work(self) -> None:
        while batch := self._next():
            try:
                self._write(batch)
            except Exception:
                _log.exception("alarms could not be settled", count=len(batch))
                self._one_by_one(batch)
            self._done(len(batch))

    def _next(self) -> list[Settled]:
        with self._changed:
            self._changed.wait_for(lambda: self._ended or self._stopping)
            batch, self._ended = self._ended[:MOST_AT_ONCE], self._ended[MOST_AT_ONCE:]
            return batch

    def _one_by_one(self, batch: Sequence[Settled]) -> None:
        left = list(batch)
        while left:
            left = [one for one in left if not self._written(one)]
            left = [one for one in left if self._is_held(one)]
            if left:
                threading.Event().wait(AGAIN_S)

    def _written(self, one: Settled) -> bool:
        try:
            self._write([one])
        except Exception:
            _log.exception("an alarm could not be settled", alarm_id=one.alarm.alarm_id)
            return False
        return True

    def _is_held(self, one: Settled) -> bool:
        return one.alarm.lease_until is not None and self._now() < one.alarm.lease_until
