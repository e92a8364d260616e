"""A push receiver on loopback, an invented refit, and a bell whose clock tests move."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from flask import Flask

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.deliver.push import Waits
from tackwatch.settings import Settings
from tests.alarms.yard import Yard
from tests.support.push_receiver import PushReceiver, push_receiver
from tests.support.world import StandingClock, ports_with

QUICK = Waits(connect_s=0.5, answer_s=0.5)


@pytest.fixture
def settings(settings: Settings) -> Settings:
    """Settings that let the server push to loopback."""
    return replace(settings, push_hosts=("127.0.0.1",))


@pytest.fixture
def inside(app: Flask) -> Iterator[None]:
    """Run the test inside the application."""
    with app.app_context():
        yield


@pytest.fixture
def yard(inside: None) -> Yard:
    """An invented refit."""
    return Yard()


@pytest.fixture
def receiver() -> Iterator[PushReceiver]:
    """A push service and its phones; the test fails when a message was not as it must be."""
    with push_receiver() as running:
        yield running
        assert not running.faults, running.faults


@pytest.fixture
def hand() -> StandingClock:
    """The bell's clock: it stands at the present until it is moved."""
    return StandingClock(datetime.now(UTC).replace(microsecond=0))


@pytest.fixture
def bell(app: Flask, settings: Settings, hand: StandingClock) -> Iterator[Bell]:
    """A bell without its clockwork."""
    bell = Bell(app, settings, ports_with(hand), waits=QUICK)
    yield bell
    bell.finish()
