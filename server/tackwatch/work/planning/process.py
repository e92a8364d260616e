"""The planning process: two jobs of a scheduler, one that works plans out and one that sees when a plan is due anew.

Rules
-----
- It is a process of its own, and the search is in yet another one: nothing that a plan takes delays an alarm or a sync.
- Any number of these may run, on one machine or several; see ``tackwatch.store.plans`` for why none does what another
  is doing.
- Where the search was not compiled on this machine yet, that is done when this process has been up for `SETTLE_S` and
  nothing is asked for, and not when somebody waits for a first plan.
- On SIGTERM or SIGINT it gives back what it has in hand, and ends.
"""

from __future__ import annotations

import logging
import signal
import threading
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import structlog
from apscheduler.events import EVENT_SCHEDULER_STARTED
from apscheduler.schedulers.blocking import BlockingScheduler

from tackwatch.store.db import db
from tackwatch.work.planning import watch
from tackwatch.work.planning.child import Child
from tackwatch.work.planning.runner import LEASE, InContext, Planner
from tackwatch.work.ports import Ports

LOOK_EVERY_S = 1.0
GLANCE_EVERY_S = 5.0
SETTLE_S = 15.0

_log = structlog.get_logger()


def run(
    in_context: InContext,
    ports: Ports,
    cache_dir: Path,
    lease: timedelta = LEASE,
    *,
    warm: bool = True,
) -> None:
    """Work out plans until told to stop.

    Parameters
    ----------
    in_context
        Gives what the database needs around it.
    ports
        The world.
    cache_dir
        Where compiled code is kept if it cannot be kept beside the program.
    lease
        How long a claim holds that is not renewed.
    warm
        Whether to compile the search where it is not yet.
    """
    # a look that is still going on is no fault: it works a plan out
    logging.getLogger("apscheduler").setLevel(logging.ERROR)
    child = Child(cache_dir)
    planner = Planner(in_context, ports, child, time.monotonic, lease)
    scheduler = BlockingScheduler(timezone="UTC")
    warming = _Warming(child, time.monotonic) if warm else None
    _every(scheduler, LOOK_EVERY_S, lambda: _look(planner, warming))
    _every(scheduler, GLANCE_EVERY_S, lambda: _glance(in_context, ports))
    _end_on_signals(scheduler, planner)
    _log.info("planning process started", name=planner.name)
    scheduler.start()
    child.stop()
    _log.info("planning process ended")


def _every(scheduler: BlockingScheduler, seconds: float, do: Callable[[], None]) -> None:
    scheduler.add_job(
        do, "interval", seconds=seconds, coalesce=True, max_instances=1, misfire_grace_time=None
    )


class _Warming:
    """Has the search compiled, once, after a while: between looks, so that nothing else is asked of the child."""

    def __init__(self, child: Child, monotonic: Callable[[], float]) -> None:
        self._child, self._monotonic = child, monotonic
        self._from_s = monotonic() + SETTLE_S
        self._done = False

    def mind(self) -> None:
        """Begin it if it is time."""
        if self._done or self._monotonic() < self._from_s:
            return
        self._done = True
        if self._child.warm_up():
            _log.info("compiling the search, once on this machine")


def _look(planner: Planner, warming: _Warming | None) -> None:
    try:
        while planner.look():
            pass
        if warming is not None:
            warming.mind()
    except Exception:  # the database is away: the next look will find out
        _log.exception("could not look for plans")


def _glance(in_context: InContext, ports: Ports) -> None:
    try:
        with in_context():
            try:
                watch.glance(ports)
            finally:
                db.session.rollback()
    except Exception:
        _log.exception("could not see what changed")


def _end_on_signals(scheduler: BlockingScheduler, planner: Planner) -> None:
    started = threading.Event()
    scheduler.add_listener(lambda _: started.set(), EVENT_SCHEDULER_STARTED)

    def shut_down() -> None:
        started.wait()
        scheduler.shutdown(wait=True)

    def end(*_: object) -> None:
        planner.stop()
        # not here: the scheduler's locks may be held by the very code that the signal interrupted
        threading.Thread(target=shut_down).start()

    for which in (signal.SIGTERM, signal.SIGINT):
        signal.signal(which, end)
