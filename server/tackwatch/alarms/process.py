"""The alarm process: one job that wakes at the next due instant, or when it is called.

Rules
-----
- One APScheduler job, not one an alarm, and no job store of its own: the rows say what is due. A late wake is never
  dropped (``misfire_grace_time=None``), many late ones are one (``coalesce``), and two never run at once.
- After each look, and after what was delivered is settled, the job is set to the earliest of: the next due instant, the
  end of a lease, and five minutes.
- Who enters an alarm calls with its instant. If that is before the instant to which the job is set, the job is set
  anew; else nothing is done at all. A listener that found its line looks, since a call may have been missed before.
- While there is no line it looks every ten seconds.
- On SIGTERM or SIGINT the process takes nothing on any more, finishes what it is sending, and ends.
- Any number of these processes may run; see ``tackwatch.store.alarms`` for why none tells twice.
"""

from __future__ import annotations

import contextlib
import logging
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import structlog
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_EXECUTED, EVENT_SCHEDULER_STARTED
from apscheduler.schedulers.blocking import BlockingScheduler
from flask import Flask

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.claim import LEASE
from tackwatch.alarms.deliver.push import Waits
from tackwatch.work.health_bell import Heart
from tackwatch.work.house import House
from tackwatch.work.ports import SystemClock
from tackwatch.work.ring import Ear

LOOK_EVERY = timedelta(minutes=5)
LOOK_EVERY_DEAF = timedelta(seconds=10)
LISTEN_AGAIN_S = 5.0
SOONEST = timedelta(milliseconds=5)
AFTER_FAULT = timedelta(seconds=1)
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
        self._ear: Ear | None = None
        self._soonest = SOONEST
        self._set_to = self._wall.now()
        # one thread arms, so that what was read last is set last; it holds no lock that the scheduler may wait for
        self._armer = ThreadPoolExecutor(1, thread_name_prefix="arm")
        self._scheduler = BlockingScheduler(timezone="UTC")
        self._scheduler.add_job(
            self._look,
            "interval",
            id=_JOB,
            seconds=look_every.total_seconds(),
            next_run_time=self._set_to,
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
        try:
            self._bell.begin()
        except Exception:  # the database is away: leases do the same, later
            _log.exception("claims of the dead could not be taken over")
        listening = threading.Thread(target=self._listen, name="listen", daemon=True)
        listening.start()
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
        if self._ear is not None:
            self._ear.close()

    def _listen(self) -> None:
        """Hear calls; whenever the line breaks, look often until there is another."""
        while not self._stopping.is_set():
            try:
                with self._bell.ear() as self._ear:
                    self._soon(self._called, self._wall.now())
                    for at in self._ear.calls():
                        self._soon(self._called, at)
            except Exception as error:
                _log.warning("no calls are heard: looking often", why=str(error))
            self._ear = None
            self._arm_soon()
            self._stopping.wait(LISTEN_AGAIN_S)

    def _called(self, due_at: datetime) -> None:
        """Wake in time for what was entered; a look that is under way sets the next by itself."""
        if due_at < self._set_to and self._idle.is_set():
            self._set(max(due_at, self._wall.now()))

    def _look(self) -> None:
        self._idle.clear()
        self.rounds += 1
        self._soonest = AFTER_FAULT  # unless all goes well
        try:
            self._bell.look()
            self._soonest = SOONEST
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
        self._soon(self._arm)

    def _soon(self, do: Callable[..., None], *given: datetime) -> None:
        if not self._stopping.is_set():
            with contextlib.suppress(RuntimeError):  # it is ending
                self._armer.submit(do, *given)

    def _arm(self) -> None:
        """Set the next look, unless one is under way: its end sets the next by itself."""
        if not self._idle.is_set() or self._stopping.is_set():
            return
        try:
            pause = self._bell.next_look_in()
        except Exception:  # the database is away: the next look will find out
            _log.exception("the next due instant could not be read")
            pause = LOOK_EVERY_DEAF
        longest = self._look_every if self._ear else min(self._look_every, LOOK_EVERY_DEAF)
        pause = longest if pause is None else min(pause, longest)
        self._set(self._wall.now() + max(pause, self._soonest))

    def _set(self, at: datetime) -> None:
        self._set_to = at
        self._scheduler.modify_job(_JOB, next_run_time=at)


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
    heart = Heart(bell.name, house.ports.clock.now)
    clockwork = Clockwork(bell, look_every, (_inside(app, heart.beat), *each_round))
    for which in (signal.SIGTERM, signal.SIGINT):
        signal.signal(which, lambda *_: clockwork.stop())
    _log.info("alarm process started")
    clockwork.run()
    try:
        _inside(app, heart.end)()
    except Exception:  # its promise will end by itself
        _log.exception("the end could not be told")
    _log.info("alarm process ended")


def _inside(app: Flask, do: Callable[[], None]) -> EachRound:
    def inside() -> None:
        with app.app_context():
            do()

    return inside
