"""Real planning processes: they share the work, may be killed at any moment, and let go what is called off."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import db
from tackwatch.work.ports import system_ports
from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.wires import ClientWire

ROOT = Path(__file__).parents[2]
LEASE_S = 4.0


class Processes:
    """Planning processes on the test's database."""

    def __init__(self, settings: Settings) -> None:
        self.running: list[subprocess.Popen[bytes]] = []
        self.logs: list[Path] = []
        self._settings = settings

    def start(self) -> subprocess.Popen[bytes]:
        log = self._settings.data_dir / f"plans{len(self.running)}.log"
        environment = {
            **os.environ,
            "TACKWATCH_DATA_DIR": str(self._settings.data_dir),
            "TACKWATCH_DATABASE_URL": self._settings.database_url,
        }
        with log.open("wb") as out:
            command = [sys.executable, "-m", "tests.support.planning_process", str(LEASE_S)]
            process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=out, stderr=out)
        self.running.append(process)
        self.logs.append(log)
        _wait_until(lambda: "planning process started" in log.read_text())
        return process

    def end(self) -> None:
        for process in self.running:
            process.kill()
            process.wait()


@pytest.fixture
def now_app(settings: Settings) -> Iterator[Flask]:
    """The application with the machine's own clock."""
    made = create_app(settings, system_ports())
    yield made
    made.extensions["tackwatch"].hub.stop()
    with made.app_context():
        db.session.remove()
        db.engine.dispose()


@pytest.fixture
def yard(now_app: Flask) -> PlanYard:
    wire = ClientWire(now_app.test_client())
    return plan_yard(Phone.found(wire, lambda: round(time.time() * 1000)))


@pytest.fixture
def processes(settings: Settings) -> Iterator[Processes]:
    found = Processes(settings)
    yield found
    found.end()


def _wait_until(holds: Callable[[], Any], timeout_s: float = 60) -> Any:
    end = time.monotonic() + timeout_s
    while not (found := holds()):
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)
    return found


def _child(process: subprocess.Popen[bytes]) -> int | None:
    """Give the process in which a plan is worked out."""
    tasks = Path(f"/proc/{process.pid}/task").glob("*/children")
    children = [one for task in tasks for one in task.read_text().split()]
    found = [one for one in children if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes()]
    return int(found[0]) if found else None


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def _state(yard: PlanYard, plan_id: str) -> str:
    return str(yard.plan(plan_id)["state"])


@pytest.mark.timeout(240)
def test_a_plan_is_worked_out_and_given_to_the_crew(yard: PlanYard, processes: Processes):
    processes.start()
    plan_id = yard.ask(seconds=1)
    _wait_until(lambda: _state(yard, plan_id) not in ("asked", "running"), 120)
    assert _state(yard, plan_id) == "ready"
    assert yard.publish(plan_id).status == 200


@pytest.mark.timeout(240)
def test_a_planner_that_is_killed_is_followed_by_another(yard: PlanYard, processes: Processes):
    first = processes.start()
    plan_id = yard.ask(seconds=2)
    child = _wait_until(lambda: _child(first))
    _wait_until(lambda: yard.plan(plan_id)["based_on_version"] is not None)
    first.send_signal(signal.SIGKILL)
    first.wait()
    assert _state(yard, plan_id) == "running"
    processes.start()
    _wait_until(lambda: _state(yard, plan_id) == "ready", 120)
    assert not _runs(child)  # what worked for the one that was killed has ended with it


@pytest.mark.timeout(240)
def test_of_two_planners_one_works_a_plan_out(yard: PlanYard, processes: Processes):
    both = [processes.start() for _ in range(2)]
    plan_id = yard.ask(seconds=2)
    seen = set()
    while _state(yard, plan_id) in ("asked", "running"):
        seen |= {process.pid for process in both if _child(process)}
        time.sleep(0.1)
    assert _state(yard, plan_id) == "ready"
    assert len(seen) == 1


@pytest.mark.timeout(240)
def test_a_search_that_is_called_off_is_ended_and_the_next_begins(
    yard: PlanYard, processes: Processes
):
    process = processes.start()
    plan_id = yard.ask(seconds=300)
    child = _wait_until(lambda: _child(process))
    _wait_until(lambda: (yard.plan(plan_id)["progress"] or {}).get("phase") == "searching", 120)
    assert yard.owner.call("POST", f"/plans/{plan_id}/cancel").status == 200
    _wait_until(lambda: not _runs(child), 20)
    assert _state(yard, plan_id) == "cancelled"
    again = yard.ask(seconds=1)
    _wait_until(lambda: _state(yard, again) == "ready", 120)


@pytest.mark.timeout(240)
def test_a_search_whose_process_is_killed_is_begun_anew(yard: PlanYard, processes: Processes):
    process = processes.start()
    plan_id = yard.ask(seconds=3)
    child = _wait_until(lambda: _child(process))
    _wait_until(lambda: yard.plan(plan_id)["based_on_version"] is not None)
    os.kill(child, signal.SIGKILL)
    _wait_until(lambda: _state(yard, plan_id) == "ready", 120)


@pytest.mark.timeout(240)
def test_a_planner_that_is_told_to_end_gives_back_what_it_has(yard: PlanYard, processes: Processes):
    process = processes.start()
    plan_id = yard.ask(seconds=300)
    child = _wait_until(lambda: _child(process))
    _wait_until(lambda: yard.plan(plan_id)["based_on_version"] is not None)
    process.terminate()
    assert process.wait(30) == 0
    assert _state(yard, plan_id) == "asked"
    assert not _runs(child)
