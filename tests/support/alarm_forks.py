"""Alarm processes of their own, forked from one that has loaded all code, some of which kill themselves at a point.

The points are put into the running code from here; the product knows nothing of them.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

from tackwatch.alarms import process
from tackwatch.alarms.deliver.posting import Poster, Waits
from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import alarms as rows
from tackwatch.store import calls, told
from tackwatch.work import ring

POINTS: dict[str, tuple[Any, str, str]] = {
    "before the claim is committed": (rows, "claim", "after"),
    "after the claim": (ring, "claim", "after"),
    "after looking up its person": (ring, "look_up", "after"),
    "before the showing is committed": (told, "show", "after"),
    "after showing it to open pages": (ring, "show", "after"),
    "before it is sent": (Poster, "post", "before"),
    "after it was sent": (Poster, "post", "after"),
    "while it is settled": (rows, "settle", "before"),
    "before the settling is committed": (rows, "settle", "after"),
    "after the settling": (ring, "settle", "after"),
}
_FORKS = multiprocessing.get_context("forkserver")
_FORKS.set_forkserver_preload([__name__])


def counter() -> Any:
    """Make a number that a process and its test share."""
    return _FORKS.Value("i", 0)


def start(
    settings: Settings, lease_s: float, answer_s: float, kill_at: str = "", rounds: Any = None
) -> Any:
    """Start an alarm process.

    It kills itself when an alarm comes to the point that is named, and counts its rounds where it is given a counter.
    """
    args = (settings, lease_s, answer_s, kill_at, rounds)
    one = _FORKS.Process(target=_ring, args=args, daemon=True)
    one.start()
    return one


def _ring(settings: Settings, lease_s: float, answer_s: float, kill_at: str, rounds: Any) -> None:
    log = os.open(Path(settings.data_dir) / "forks.log", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for stream in (1, 2):
        os.dup2(log, stream)
    calls.CHECK_S = 1.0  # a test does not wait for minutes
    if kill_at:
        owner, name, when = POINTS[kill_at]
        setattr(owner, name, _deadly(getattr(owner, name), when))
    waits = Waits(connect_s=0.25, answer_s=answer_s)
    lease, each_round = timedelta(seconds=lease_s), [] if rounds is None else [_counting(rounds)]
    process.run(create_app(settings), lease=lease, waits=waits, each_round=each_round)


def _counting(rounds: Any) -> Callable[[], None]:
    def count() -> None:
        rounds.value += 1

    return count


def _deadly(real: Callable[..., Any], when: str) -> Callable[..., Any]:
    def deadly(*given: Any, **named: Any) -> Any:
        if when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        result = real(*given, **named)
        if result or result is None:  # an empty claim is no claim
            os.kill(os.getpid(), signal.SIGKILL)
        return result

    return deadly


@contextmanager
def ended(running: list[Any]) -> Any:
    """Kill what still runs at the end."""
    try:
        yield running
    finally:
        for one in running:
            one.kill()
            one.join()
