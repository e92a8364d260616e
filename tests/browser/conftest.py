"""Fixtures of the browser tests: a real server on a port of its own, and devices with screens."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.board import Board, lay_out
from tests.browser.device import LAPTOP, PHONE, Device
from tests.browser.house import House
from tests.browser.plan_answers import PlanAnswers, Yard, launch_in, lay_out_yard, plan_of
from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire

expect.set_options(timeout=15_000)
Open = Callable[..., Device]


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Debian's browser, as whoever runs the tests."""
    return {"executable_path": "/usr/bin/chromium", "args": ["--no-sandbox"]}


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    """A copy of the project with its client built."""
    made = House(tmp_path_factory.mktemp("house"))
    made.build()
    return made


@pytest.fixture(scope="module")
def server(house: House, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """``tackwatch serve`` with its alarm process, on SQLite."""
    folder = tmp_path_factory.mktemp("server")
    with Server(folder, "", "--workers", "1", PYTHONPATH=house.python_path) as running:
        yield running


@pytest.fixture
def http(server: Server) -> Iterator[HttpWire]:
    wire = HttpWire(server.address)
    yield wire
    wire.close()


_failed = pytest.StashKey[bool]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Remember that a test failed, so that its screens are kept."""
    report = yield
    item.stash[_failed] = item.stash.get(_failed, False) or report.failed
    return report


@pytest.fixture
def devices(
    browser: Browser, server: Server, request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[..., Device]]:
    """Opens devices, and closes them at the end; fails where a page had an error of its own.

    What was on the screens of a test that failed is kept in its ``tmp_path``.
    """
    opened: list[Device] = []

    def open_one(shape: dict[str, Any], **options: Any) -> Device:
        device = Device(browser, server.address, shape, **options)
        opened.append(device)
        return device

    yield open_one
    for number, device in enumerate(opened):
        if request.node.stash.get(_failed, False):
            device.screenshot(tmp_path / f"device-{number}.png")
        device.close()


@pytest.fixture
def phone(devices: Open) -> Open:
    """Opens a phone."""
    return lambda **options: devices(PHONE, **options)


@pytest.fixture
def laptop(devices: Open) -> Open:
    """Opens a laptop."""
    return lambda **options: devices(LAPTOP, **options)


@pytest.fixture
def owner(http: HttpWire) -> Phone:
    """A refit of its own, and its owner's phone in Python: for what a test needs but is not about."""
    return Phone.found(http, lambda: time.time_ns() // 1_000_000, with_products=True)


@pytest.fixture
def board(owner: Phone) -> Board:
    """A refit with a job of two coats."""
    return lay_out(owner)


@pytest.fixture
def yard(http: HttpWire) -> Yard:
    """A refit with a crew and jobs that is launched in sixteen days."""
    launch_at = launch_in(16)
    at = launch_at.isoformat().replace("+00:00", "Z")
    return lay_out_yard(
        Phone.found(http, lambda: time.time_ns() // 1_000_000, launch_at=at), launch_at
    )


@pytest.fixture
def answers(yard: Yard) -> PlanAnswers:
    """Answers with one plan that is ready."""
    made = PlanAnswers()
    made.show(plan_of(yard))
    return made
