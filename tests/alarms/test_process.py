"""Real alarm processes: they wake in time, share the work, and may be killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tackwatch.alarms.process import LOOK_EVERY
from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import db
from tests.alarms.yard import Yard, wanted
from tests.support.alarm_forks import counter, ended, start
from tests.support.postgres import Cluster
from tests.support.push_receiver import Answer, PushReceiver

ROOT = Path(__file__).parents[2]
LEASE_S = 3.0
Start = Callable[..., subprocess.Popen[str]]


class Processes:
    """Alarm processes on the test's database."""

    def __init__(self, settings: Settings) -> None:
        self.running: list[subprocess.Popen[bytes]] = []
        self._logs = settings.data_dir
        self._environment = {
            **os.environ,
            "PYTHONUNBUFFERED": "1",
            "TACKWATCH_DATA_DIR": str(settings.data_dir),
            "TACKWATCH_DATABASE_URL": settings.database_url,
            "TACKWATCH_PUSH_HOSTS": "127.0.0.1",
        }

    def start(self, *command: str, count: int = 1) -> subprocess.Popen[bytes]:
        """Start some, and come back when they run; give the first."""
        begun = [self._begin(command) for _ in range(count)]
        for _, log in begun:
            _wait_until(lambda log=log: "alarm process started" in log.read_text(), 60)
        return begun[0][0]

    def _begin(self, command: tuple[str, ...]) -> tuple[subprocess.Popen[bytes], Path]:
        log = self._logs / f"alarms{len(self.running)}.log"
        with log.open("wb") as out:
            process = subprocess.Popen(
                [sys.executable, "-m", *command],
                cwd=ROOT,
                env=self._environment,
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        self.running.append(process)
        return process, log

    def of(self, claimant: str | None) -> subprocess.Popen[bytes]:
        """Give the one of a claimant, whose name is ``host.process.chance``."""
        number = int(str(claimant).rsplit(".", 2)[1])
        return next(one for one in self.running if one.pid == number)

    def end(self) -> None:
        for process in self.running:
            process.kill()
            process.wait()


@pytest.fixture
def processes(settings: Settings) -> Iterator[Processes]:
    """Alarm processes; what still runs at the end is killed."""
    found = Processes(settings)
    yield found
    found.end()


def _quick(lease_s: float = LEASE_S, look_every_s: float = 0.5, answer_s: float = 1.0) -> list[str]:
    numbers = (lease_s, look_every_s, answer_s)
    return ["tests.support.alarm_process", *(str(number) for number in numbers)]


def _in(seconds: float) -> datetime:
    return datetime.now(UTC) + timedelta(seconds=seconds)


def _wait_until(holds: Callable[[], bool], timeout_s: float = 20) -> None:
    end = time.monotonic() + timeout_s
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


def test_the_process_wakes_at_the_due_instant(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    due_at = _in(6)
    yard.keep(wanted(member, due_at), now=datetime.now(UTC))
    processes.start(*_quick(look_every_s=300))  # only a wake of its own comes before the next look
    (push,) = receiver.wait_for(1, 60)
    assert push.at >= due_at


def test_a_failed_push_is_tried_again_after_its_pause_and_not_at_the_next_look(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a", [Answer(503), Answer(201)]))
    yard.keep(wanted(member, _in(-1)), now=datetime.now(UTC))
    processes.start(*_quick(lease_s=45, look_every_s=30))
    failed, done = receiver.wait_for(2, 25)
    assert timedelta(seconds=2) <= done.at - failed.at < timedelta(seconds=25), (
        "before the next look"
    )


def test_the_command_tells_what_came_due_before_it_ran_and_ends_when_asked(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    member = yard.member(devices=0)
    stall = threading.Event()
    yard.device(member, receiver.subscribe("a", [Answer(201, stall=stall)]))
    yard.keep(
        wanted(member, _in(-60), alarm="before"),
        wanted(member, _in(600), alarm="later"),
        now=datetime.now(UTC),
    )
    process = processes.start("tackwatch.cli", "alarms")
    receiver.wait_for(1)
    process.send_signal(signal.SIGTERM)
    time.sleep(0.3)
    assert process.poll() is None, "what is being delivered is finished first"
    stall.set()
    assert process.wait(15) == 0
    assert yard.states() == {"before.recoat_closing": "told", "later.recoat_closing": "due"}


def test_a_killed_process_is_taken_over_by_its_neighbour_after_its_lease_and_the_phone_shows_it_once(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    member = yard.member(devices=0)
    never = threading.Event()
    yard.device(member, receiver.subscribe("a", [Answer(201, stall=never), Answer(201)]))
    # Both run before there is anything to take, since starting takes its time.
    processes.start(*_quick(), count=2)
    yard.keep(wanted(member, _in(-1)), now=datetime.now(UTC))
    (begun,) = receiver.wait_for(1)
    holder = processes.of(yard.one().claimed_by)
    holder.kill()  # claimed, on its way to the phone, not settled
    assert holder.wait() == -signal.SIGKILL
    assert yard.one().state == "claimed"
    _, again = receiver.wait_for(2)
    assert again.at - begun.at > timedelta(seconds=LEASE_S - 0.5), "not before the lease ended"
    _wait_until(lambda: yard.one().state == "told")
    assert yard.one().attempts >= 2
    assert begun.payload["alarm_id"] == again.payload["alarm_id"]
    assert begun.headers["Topic"] == again.headers["Topic"]
    assert list(receiver.shown()["a"]) == [yard.one().alarm_id]
    never.set()


def test_four_processes_tell_each_alarm_exactly_once(
    yard: Yard, receiver: PushReceiver, processes: Processes
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    processes.start(*_quick(lease_s=30), count=4)
    many = [wanted(member, _in(1 + one / 100), alarm=f"coat{one}") for one in range(60)]
    yard.keep(*many, now=datetime.now(UTC))
    _wait_until(lambda: set(yard.states().values()) == {"told"})
    assert len(receiver.pushes) == 60
    assert len(receiver.shown()["a"]) == 60


@pytest.fixture
def forks() -> Iterator[list[Any]]:
    """Forked alarm processes; what still runs at the end is killed."""
    with ended([]) as found:
        yield found


def test_a_process_sleeps_while_nothing_is_due_and_yet_notices_what_is_entered(
    yard: Yard, receiver: PushReceiver, settings: Settings, forks: list[Any]
) -> None:
    assert timedelta(minutes=1) <= LOOK_EVERY, "its own looks are fewer than one a minute"
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    rounds = counter()
    forks.append(start(settings, 45, 5, rounds=rounds))
    _wait_until(lambda: rounds.value >= 1, 60)
    time.sleep(3)  # it finds its line, and looks once more
    began = rounds.value
    time.sleep(8)
    assert rounds.value == began <= 2, "it sleeps"
    all_ = [wanted(member, _in(0), alarm="now")]
    yard.keep(*all_, now=datetime.now(UTC))
    receiver.wait_for(1, 60)  # far sooner than it would look by itself
    all_.append(wanted(member, _in(2), alarm="soon"))
    yard.keep(*all_, now=datetime.now(UTC))
    _, push = receiver.wait_for(2, 60)
    assert push.at >= all_[1].due_at
    all_.append(wanted(member, _in(900), alarm="later"))
    yard.keep(*all_, now=datetime.now(UTC))
    time.sleep(2)
    assert rounds.value - began <= 4, "once or twice for each that was due, and for no other"


def test_a_listener_whose_line_breaks_finds_another_and_what_was_called_meanwhile(
    yard: Yard, receiver: PushReceiver, settings: Settings, forks: list[Any]
) -> None:
    member = yard.member(devices=0)
    yard.device(member, receiver.subscribe("a"))
    rounds = counter()
    forks.append(start(settings, 45, 5, rounds=rounds))
    _wait_until(lambda: rounds.value >= 1, 60)
    time.sleep(3)
    if db.engine.dialect.name == "postgresql":
        with db.engine.begin() as connection:
            connection.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND query LIKE 'LISTEN%%'"
            )
    else:
        for pipe in settings.data_dir.glob("*-calls/*.call"):
            pipe.unlink()
    yard.keep(wanted(member, _in(0)), now=datetime.now(UTC))
    receiver.wait_for(1, 60)


def test_a_database_that_was_away_for_a_while_is_found_again(
    tmp_path: Path, receiver: PushReceiver
) -> None:
    with Cluster() as cluster:
        settings = Settings(tmp_path, cluster.create("away"))
        app = create_app(settings)
        processes = Processes(settings)
        try:
            with app.app_context():
                yard = Yard()
                member = yard.member(devices=0)
                yard.device(member, receiver.subscribe("a"))
                processes.start(*_quick())
                cluster.stop()
                time.sleep(1.5)  # some looks fail
                cluster.start()
                yard.keep(wanted(member, _in(0)), now=datetime.now(UTC))
                receiver.wait_for(1)
                assert processes.running[0].poll() is None
        finally:
            processes.end()
            with app.app_context():
                db.engine.dispose()
