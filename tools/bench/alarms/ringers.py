"""Alarm processes that write down when each of their claims was committed; forked from one that has loaded all code."""

from __future__ import annotations

import json
import multiprocessing
import os
import time
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

from tackwatch.alarms import process
from tackwatch.alarms.claim import LEASE
from tackwatch.alarms.deliver.push import Waits
from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.work import ring

_FORKS = multiprocessing.get_context("forkserver")
_FORKS.set_forkserver_preload([__name__])


class Ringers:
    """Running alarm processes."""

    def __init__(
        self, settings: Settings, lease: timedelta = LEASE, waits: Waits | None = None
    ) -> None:
        self._settings, self._lease, self._waits = settings, lease, waits or Waits()
        self._claims = settings.data_dir / "claims"
        self._claims.touch()
        self.running: list[Any] = []
        self._runs: dict[int, Any] = {}

    def start(self, count: int = 1) -> None:
        """Start so many more."""
        for _ in range(count):
            runs = _FORKS.Event()
            args = (self._settings, self._lease, self._waits, self._claims, runs)
            one = _FORKS.Process(target=_ring, args=args)
            one.start()
            self.running.append(one)
            self._runs[one.pid] = runs

    def wait(self) -> None:
        """Wait until all run."""
        for one in self.running:
            if not self._runs[one.pid].wait(60):
                raise TimeoutError("an alarm process did not start")

    def ready(self) -> list[Any]:
        """Give those that have begun to ring."""
        return [one for one in self.running if self._runs[one.pid].is_set()]

    def kill(self, one: Any) -> None:
        """Kill one with SIGKILL."""
        self.running.remove(one)
        one.kill()
        one.join()

    def claims(self) -> list[tuple[int, float]]:
        """Give id and instant of every claim that was committed."""
        lines = [json.loads(line) for line in self._claims.read_text().splitlines()]
        return [(id_, line["at"]) for line in lines for id_ in line["ids"]]

    def rounds(self) -> int:
        """Say how often any of them woke."""
        return sum('"woke"' in line for line in self._claims.read_text().splitlines())

    def end(self) -> None:
        """Ask them to end, and see that they do."""
        for one in self.running:
            one.terminate()
        for one in self.running:
            one.join(30)
            if one.is_alive():
                one.kill()
                one.join()
        self.running = []
        self._claims.write_text("")


def _ring(settings: Settings, lease: timedelta, waits: Waits, claims: Path, runs: Any) -> None:
    log = os.open(settings.data_dir / "alarms.log", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    for stream in (1, 2):
        os.dup2(log, stream)
    to = os.open(claims, os.O_WRONLY | os.O_APPEND)
    _write_down_claims(to)
    app = create_app(settings)

    def woke() -> None:
        os.write(to, b'{"woke": 1, "ids": []}\n')
        runs.set()

    process.run(app, lease=lease, waits=waits, each_round=[woke])


def _write_down_claims(to: int) -> None:
    claim = ring.claim

    def timed(*given: Any, **named: Any) -> Sequence[ring.AlarmRow]:
        rows = claim(*given, **named)
        at = time.time()
        if rows:
            os.write(to, json.dumps({"at": at, "ids": [row.id for row in rows]}).encode() + b"\n")
        return rows

    ring.claim = timed  # type: ignore[assignment]
