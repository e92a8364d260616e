"""Serving for real: several processes, streams, the alarm process beside them, and a graceful end."""

from __future__ import annotations

import os
import re
import signal
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import pytest
import requests

from tackwatch.work.serving import Beside, Serving
from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire


@pytest.fixture
def server(database_url: str, tmp_path: Path) -> Iterator[Server]:
    with Server(tmp_path, database_url, "--workers", "2", "--threads", "20") as running:
        yield running


@pytest.fixture
def http(server: Server) -> Iterator[HttpWire]:
    wire = HttpWire(server.address)
    yield wire
    wire.close()


def now_ms() -> int:
    return time.time_ns() // 1_000_000


def test_eight_phones_that_push_at_once_all_get_through(server: Server, http: HttpWire) -> None:
    owner = Phone.found(http, now_ms)
    phones = [Phone.join(http, now_ms, owner.invite(name=f"Hand {n}")) for n in range(8)]

    def push(phone: Phone) -> list[int]:
        phone.wire = HttpWire(server.address)
        statuses = []
        for number in range(6):
            phone.create("zone", {"name": f"Zone {number}"})
            answer = phone.exchange()
            statuses.append(answer.status)
            phone.take(answer.json)
        phone.wire.close()
        return statuses

    with ThreadPoolExecutor(8) as pool:
        statuses = [status for found in pool.map(push, phones) for status in found]
    assert statuses == [200] * 48
    owner.sync()
    assert len([one for one in owner.state.items.values() if one.kind == "zone"]) == 48


def test_a_live_stream_hears_what_another_process_files_and_ends_with_the_server(
    server: Server, http: HttpWire
) -> None:
    owner = Phone.found(http, now_ms)
    with requests.get(
        f"{server.address}/api/refits/{owner.refit_id}/live",
        headers={"Authorization": f"Bearer {owner.key}"},
        stream=True,
        timeout=30,
    ) as stream:
        lines = stream.iter_lines(chunk_size=1)
        first = _event(lines)
        for number in range(4):  # some of these are served by the other process
            owner.create("zone", {"name": f"Zone {number}"})
            owner.sync()
        assert _event(lines) > first
        assert server.stop() == 0
        # a stream that was cut off instead of ended would raise here
        assert all(line == b"" or line.startswith((b"event", b"data")) for line in lines)


def test_requests_find_a_thread_however_many_pages_listen(server: Server, http: HttpWire) -> None:
    owner = Phone.found(http, now_ms)
    phones = [owner, *(Phone.join(http, now_ms, owner.invite(name=f"H{n}")) for n in range(5))]
    streams = [
        requests.get(
            f"{server.address}/api/refits/{phone.refit_id}/live",
            headers={"Authorization": f"Bearer {phone.key}"},
            stream=True,
            timeout=30,
        )
        for phone in phones * 4
    ]
    statuses = {one.status_code for one in streams}
    assert statuses == {200, 429}
    assert owner.call("GET", "/work").status == 200
    for one in streams:
        one.close()


def test_the_alarm_process_is_started_again_when_it_ends_and_stops_with_the_server(
    server: Server,
) -> None:
    assert server.process is not None
    first = _until(lambda: _alarm_processes(server.process.pid))  # type: ignore[union-attr]
    os.kill(first[0], signal.SIGKILL)
    second = _until(
        lambda: [one for one in _alarm_processes(server.process.pid) if one != first[0]]
    )  # type: ignore[union-attr]
    assert server.stop() == 0
    assert not Path(f"/proc/{second[0]}").exists()


def test_the_planning_process_is_started_again_when_it_ends_and_stops_with_the_server(
    server: Server,
) -> None:
    assert server.process is not None
    pid = server.process.pid
    first = _until(lambda: _beside(pid, "plans"))
    os.kill(first[0], signal.SIGKILL)
    second = _until(lambda: [one for one in _beside(pid, "plans") if one != first[0]])
    assert server.stop() == 0
    assert not Path(f"/proc/{second[0]}").exists()


def test_a_web_worker_that_dies_is_started_again(server: Server) -> None:
    assert server.process is not None
    workers = _children(server.process.pid) - set(_alarm_processes(server.process.pid))
    for one in workers:
        os.kill(one, signal.SIGKILL)
    assert _until(lambda: [server.answers()] if server.answers() else [])


def test_the_alarm_process_ends_when_the_server_was_killed(server: Server) -> None:
    assert server.process is not None
    (bell,) = _until(lambda: _alarm_processes(server.process.pid))  # type: ignore[union-attr]
    server.stop(signal.SIGKILL)
    _until(lambda: [] if _runs(bell) else [bell])


def test_alarms_and_plans_can_be_left_to_other_processes(tmp_path: Path) -> None:
    with Server(tmp_path, "", "--no-alarms", "--no-plans", "--workers", "1") as running:
        assert running.process is not None
        time.sleep(2)
        assert _alarm_processes(running.process.pid) == []
        assert _beside(running.process.pid, "plans") == []


def test_a_bell_that_keeps_ending_is_rung_with_growing_pauses() -> None:
    bell = Beside("alarms", (sys.executable, "-c", "pass"))
    started_s: list[float] = []
    last: int | None = None
    for now_s in range(200):
        bell.mind(float(now_s))
        if bell.pid is not None and bell.pid != last:
            started_s.append(now_s)
            last = bell.pid
            _until(lambda pid=bell.pid: [] if _runs(pid) else [pid])  # type: ignore[misc]
    bell.stop()
    gaps = [later - earlier for earlier, later in pairwise(started_s)]
    assert gaps == sorted(gaps)
    assert gaps[0] <= 3
    assert max(gaps) == 31  # found out a second after it ended, then 30 seconds


def test_streams_are_given_fewer_threads_than_there_are() -> None:
    assert Serving(threads=64).streams == 48
    assert Serving(threads=4).streams == 1


def _event(lines: Iterator[bytes]) -> int:
    for line in lines:
        if match := re.fullmatch(rb'data: \{"seq": (\d+)\}', line):
            return int(match[1])
    raise AssertionError("the stream ended")


def _children(pid: int) -> set[int]:
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    return {int(one) for one in text.split()}


def _alarm_processes(pid: int) -> list[int]:
    return _beside(pid, "alarms")


def _beside(pid: int, name: str) -> list[int]:
    return [one for one in _children(pid) if f"\0{name}\0".encode() in _command(one)]


def _command(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except FileNotFoundError:
        return b""


def _runs(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def _until(found: Callable[[], list[int]], within_s: float = 20) -> list[int]:
    deadline = time.monotonic() + within_s
    while not (now := found()):
        assert time.monotonic() < deadline, "it did not happen"
        time.sleep(0.1)
    return now
