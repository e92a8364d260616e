"""The alarm process: one job that wakes at the next due instant.

Rules
-----
- One APScheduler job, not one an alarm, and no job store of its own: the rows say what is due. A late wake is never
  dropped (``misfire_grace_time=None``), many late ones are one (``coalesce``), and two never run at once.
- After each look, and after each delivery, the job is set to the earliest of: the next due instant, the end of a lease,
  and ten seconds, within which alarms that were entered meanwhile are noticed.
- On SIGTERM or SIGINT the process takes nothing on any more, finishes what it is delivering, and ends.
- Any number of these processes may run; see ``tackwatch.store.alarms`` for why none tells twice.
"""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import structlog
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_EXECUTED, EVENT_SCHEDULER_STARTED
from apscheduler.schedulers.blocking import BlockingScheduler
from flask import Flask

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.claim import LEASE
from tackwatch.alarms.deliver.push import Waits
from tackwatch.work.house import House
from tackwatch.work.ports import SystemClock

LOOK_EVERY = timedelta(seconds=10)
SOONEST = timedelta(milliseconds=5)
_JOB = "look"
EachRound = Callable[[], None]

_log = structlog.get_logger()


class Clockwork:
    """Wakes a bell in time.

    Parameters
    ----------
    bell
        What is to be woken.
    look_every
        How long it sleeps at most.
    each_round
        What else is done after every look, in the same thread; a fault there is logged and stops nothing.
    """

    def __init__(
        self, bell: Bell, look_every: timedelta = LOOK_EVERY, each_round: Sequence[EachRound] = ()
    ) -> None:
        self._bell = bell
        self._look_every = look_every
        self._each_round = tuple(each_round)
        self.rounds = 0  # how often it woke, for those who watch over it
        self._wall = SystemClock()  # the scheduler waits by it, whatever the clock port says
        self._started, self._stopping, self._idle = (threading.Event() for _ in range(3))
        self._idle.set()
        # one thread arms, so that what was read last is set last; it holds no lock that the scheduler may wait for
        self._armer = ThreadPoolExecutor(1, thread_name_prefix="arm")
        self._scheduler = BlockingScheduler(timezone="UTC")
        self._scheduler.add_job(
            self._look,
            "interval",
            id=_JOB,
            seconds=look_every.total_seconds(),
            next_run_time=self._wall.now(),
            coalesce=True,
            max_instances=1,
            misfire_grace_time=None,
        )
        self._scheduler.add_listener(lambda _: self._started.set(), EVENT_SCHEDULER_STARTED)
        self._scheduler.add_listener(
            lambda _: self._arm_soon(), EVENT_JOB_EXECUTED | EVENT_JOB_ERROR
        )
        bell.after_delivery = self._arm_soon

    def run(self) -> None:
        """Ring until stopped."""
        self._scheduler.start()
        self._idle.wait()
        self._bell.finish()
        self._armer.shutdown()

    def stop(self) -> None:
        """Stop soon; may be called from a signal handler, and more than once."""
        self._bell.stop()
        if not self._stopping.is_set():
            self._stopping.set()
            # not here: the scheduler's locks may be held by the very code that the signal interrupted
            threading.Thread(target=self._shut_down).start()

    def _shut_down(self) -> None:
        self._started.wait()
        self._scheduler.shutdown(wait=False)

    def _look(self) -> None:
        self._idle.clear()
        self.rounds += 1
        try:
            self._bell.look()
        finally:
            self._do_the_rest()
            self._idle.set()

    def _do_the_rest(self) -> None:
        for do in self._each_round:
            try:
                do()
            except Exception:
                _log.exception("a duty of each round failed")

    def _arm_soon(self) -> None:
        if not self._stopping.is_set():
            self._armer.submit(self._arm)

    def _arm(self) -> None:
        """Set the next look, unless one is under way: its end sets the next by itself."""
        if not self._idle.is_set() or self._stopping.is_set():
            return
        try:
            pause = self._bell.next_look_in()
        except Exception:  # the database is away: the next look will find out
            _log.exception("the next due instant could not be read")
            pause = None
        pause = self._look_every if pause is None else min(pause, self._look_every)
        self._scheduler.modify_job(_JOB, next_run_time=self._wall.now() + max(pause, SOONEST))


def run(
    app: Flask,
    look_every: timedelta = LOOK_EVERY,
    lease: timedelta = LEASE,
    waits: Waits | None = None,
    each_round: Sequence[EachRound] = (),
) -> None:
    """Run the alarm process until it is told to stop; ``each_round`` as with ``Clockwork``."""
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    house: House = app.extensions["tackwatch"]
    bell = Bell(app, house.settings, house.ports, lease, waits)
    clockwork = Clockwork(bell, look_every, each_round)
    for which in (signal.SIGTERM, signal.SIGINT):
        signal.signal(which, lambda *_: clockwork.stop())
    _log.info("alarm process started")
    clockwork.run()
    _log.info("alarm process ended")
