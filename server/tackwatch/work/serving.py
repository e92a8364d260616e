"""Serving with gunicorn: web workers with threads, and the processes that ring the alarms and make plans beside them.

Rules
-----
- The first process listens and minds the others: it starts web workers that ended anew, and those beside them too,
  each after a pause that grows while it keeps ending.
- An open page holds a thread for as long as its live stream lasts; so there are many threads, and streams are given
  fewer than there are, so that requests always find one.
- On SIGTERM or SIGINT the streams are closed, requests are finished, and the processes beside are stopped.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import structlog
from flask import Flask
from gunicorn.app.base import BaseApplication
from gunicorn.arbiter import Arbiter

GRACE_S = 10
KEPT_FOR_REQUESTS = 16
_LONGEST_PAUSE_S = 30.0
_log = structlog.get_logger()


@dataclass(frozen=True, slots=True)
class Serving:
    """Where and how to serve."""

    host: str = "127.0.0.1"
    port: int = 8000
    workers: int = 2
    threads: int = 64
    with_alarms: bool = True
    with_plans: bool = True

    @property
    def streams(self) -> int:
        """How many live streams a worker may hold open."""
        return max(1, self.threads - KEPT_FOR_REQUESTS)


def run(make_app: Callable[[], Flask], serving: Serving) -> None:
    """Serve until a signal says to stop; does not return."""
    _House(make_app, serving).run()


class _House(BaseApplication):  # type: ignore[misc]
    """Tells gunicorn how to serve the application."""

    def __init__(self, make_app: Callable[[], Flask], serving: Serving) -> None:
        self._make_app = make_app
        self._serving = serving
        super().__init__()

    def load_config(self) -> None:
        """Set what is set; there is no configuration file."""
        for name, value in {
            "bind": _address(self._serving.host, self._serving.port),
            "workers": self._serving.workers,
            "worker_class": "gthread",
            "threads": self._serving.threads,
            "timeout": 120,
            "graceful_timeout": GRACE_S,
            "keepalive": 15,
            "control_socket_disable": True,
            "forwarded_allow_ips": "",
            "proc_name": "tackwatch",
            "post_worker_init": _begin,
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """Make the application, in each worker."""
        return self._make_app()

    def run(self) -> None:
        """Serve."""
        wanted = {"alarms": self._serving.with_alarms, "plans": self._serving.with_plans}
        _Minder(self, [Beside(name) for name, here in wanted.items() if here]).run()


class _Minder(Arbiter):  # type: ignore[misc]
    """Minds the web workers, and the processes beside them."""

    def __init__(self, app: BaseApplication, beside: Sequence[Beside]) -> None:
        self._beside = beside
        super().__init__(app)

    def manage_workers(self) -> None:
        """Start what is missing; called at least once a second."""
        super().manage_workers()
        for one in self._beside:
            one.mind(time.monotonic())

    def stop(self, graceful: bool = True) -> None:
        """Stop the processes beside, then the workers."""
        for one in self._beside:
            one.stop()
        super().stop(graceful)


class Beside:
    """A process beside the web workers, started anew whenever it has ended.

    Parameters
    ----------
    name
        The command of ``tackwatch`` that it runs.
    command
        How to start it, if not so.
    """

    def __init__(self, name: str, command: tuple[str, ...] | None = None) -> None:
        self._name = name
        self._command = command or (
            *(sys.executable, "-m", "tackwatch.cli", name),
            *("--while-child-of", str(os.getpid())),
        )
        self._process: subprocess.Popen[bytes] | None = None
        self._began_at = 0.0
        self._pause_s = 0.0
        self._next_at = 0.0

    @property
    def pid(self) -> int | None:
        """The process's number while it runs."""
        return None if self._process is None else self._process.pid

    def mind(self, now_s: float) -> None:
        """Start the process if it does not run and its pause is over."""
        if self._process is not None and self._process.poll() is None:
            return
        if self._process is not None:
            self._ended(now_s)
        if now_s >= self._next_at:
            self._process = subprocess.Popen(self._command)  # noqa: S603 - our own command
            self._began_at = now_s

    def stop(self) -> None:
        """Ask the process to end, and end it if it does not."""
        if self._process is None or self._process.poll() is not None:
            return
        self._process.terminate()
        try:
            self._process.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _ended(self, now_s: float) -> None:
        lasted_s = now_s - self._began_at
        short = lasted_s < 2 * _LONGEST_PAUSE_S
        self._pause_s = min(max(1.0, 2 * self._pause_s), _LONGEST_PAUSE_S) if short else 1.0
        self._next_at = now_s + self._pause_s
        self._process = None
        _log.error(
            "a process beside ended",
            name=self._name,
            lasted_s=round(lasted_s, 1),
            pause_s=self._pause_s,
        )


def _begin(worker: Any) -> None:
    _end_streams_with(worker)
    _leave_what_lasts()


def _leave_what_lasts() -> None:
    """Keep the collector from walking through all of the program again and again while a large call is worked on."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def _end_streams_with(worker: Any) -> None:
    """Let a worker's live streams end when the worker is told to."""
    app: Flask = worker.wsgi
    app.extensions["tackwatch"].hub.stop_when(lambda: not worker.alive)


def _address(host: str, port: int) -> str:
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
