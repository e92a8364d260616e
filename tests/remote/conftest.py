"""A device without a screen, on a server behind a real door, on each database in turn."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask

from tackwatch.remote.copy import Copy
from tackwatch.remote.exchange import exchange
from tackwatch.remote.join import join
from tests.support.door import Door
from tests.support.phone import Phone
from tests.support.world import StandingClock

Aboard = Callable[..., Copy]


@pytest.fixture
def door(app: Flask) -> Iterator[Door]:
    with Door(app) as opened:
        yield opened


@pytest.fixture
def aboard(door: Door, owner: Phone, clock: StandingClock, tmp_path: Path) -> Iterator[Aboard]:
    """Lets a device come aboard, with the refit loaded."""
    made: list[Copy] = []

    def come(role: str = "hand", now_ms: Callable[[], int] | None = None) -> Copy:
        link = f"{door.address}/#/join/{owner.invite(role, 'Shed')}"
        path = tmp_path / f"device-{len(made)}.tackwatch"
        made.append(join(link, "sensor", path, now_ms or (lambda: clock.ms)))
        exchange(made[-1])
        return made[-1]

    yield come
    for copy in made:
        copy.close()


def now_ms() -> int:
    return time.time_ns() // 1_000_000
