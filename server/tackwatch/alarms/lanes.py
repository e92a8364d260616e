"""Lanes: what is delivered at the same time, apart for each place where it goes.

Rules
-----
- Each host has a lane. So many of its tasks run at once, in threads that no other lane uses; so many more may wait.
  What there is no room for is not taken. A host that answers nobody holds up its own lane alone.
- However many hosts there are, threads are bounded; then a lane that has none still gets one.
- A thread works its lane off and ends: a bell that has nothing to deliver has no threads.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

import structlog

MOST_THREADS = 512
Task = Callable[[], None]

_log = structlog.get_logger()


@dataclass(frozen=True, slots=True)
class Width:
    """How many tasks a lane runs at once, and how many more may wait in it."""

    most: int
    waiting: int


@dataclass(slots=True)
class _Lane:
    tasks: deque[Task] = field(default_factory=deque)
    running: int = 0


class Lanes:
    """Runs tasks in lanes."""

    def __init__(self, most_threads: int = MOST_THREADS) -> None:
        self._most_threads = most_threads
        self._threads = 0
        self._lanes: dict[str, _Lane] = {}
        self._changed = threading.Condition()

    def put(self, name: str, width: Width, task: Task) -> bool:
        """Let a task run in a lane; false when too many wait there already."""
        with self._changed:
            lane = self._lanes.setdefault(name, _Lane())
            free = width.most - lane.running
            if len(lane.tasks) >= width.waiting + max(free, 0):
                return False
            lane.tasks.append(task)
            if free <= 0 or (lane.running and self._threads >= self._most_threads):
                return True
            lane.running += 1
            self._threads += 1
        threading.Thread(target=self._work, args=(name, lane), name=f"to {name}").start()
        return True

    def wait_until_empty(self) -> None:
        """Wait until nothing runs or waits in any lane."""
        with self._changed:
            self._changed.wait_for(lambda: not self._lanes)

    def _work(self, name: str, lane: _Lane) -> None:
        while (task := self._next(name, lane)) is not None:
            try:
                task()
            except Exception:
                _log.exception("a delivery failed", lane=name)

    def _next(self, name: str, lane: _Lane) -> Task | None:
        with self._changed:
            if lane.tasks:
                return lane.tasks.popleft()
            lane.running -= 1
            self._threads -= 1
            if not lane.running:
                del self._lanes[name]
                self._changed.notify_all()
            return None
