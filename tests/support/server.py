"""A server of its own for a test: ``tackwatch serve`` on a free port, stopped at the end."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType

import requests


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Server:
    """Runs ``tackwatch serve``; its output goes to ``log`` in the data folder."""

    def __init__(
        self, data_dir: Path, database_url: str = "", *options: str, **environment: str
    ) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.log = data_dir / "log"
        self._environment = {
            **os.environ,
            "TACKWATCH_DATA_DIR": str(data_dir),
            "TACKWATCH_DATABASE_URL": database_url,
            "TACKWATCH_PUBLIC_URL": self.address,
            "TACKWATCH_SIGN_IN_PER_MINUTE": "10000",
            **environment,
        }
        self._options = options
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Server:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def start(self) -> None:
        command = [sys.executable, "-m", "tackwatch.cli", "serve", "--port", str(self.port)]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*command, *self._options], env=self._environment, stdout=log, stderr=log
            )
        deadline = time.monotonic() + 60
        while not self.answers():
            if self.process.poll() is not None or time.monotonic() > deadline:
                self.stop()
                raise RuntimeError(f"the server did not start: {self.log.read_text()}")
            time.sleep(0.1)

    def answers(self) -> bool:
        try:
            return requests.get(f"{self.address}/api/health", timeout=5).ok
        except (requests.ConnectionError, requests.Timeout):
            return False

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        """Ask the server to end and give its exit status."""
        if self.process is None:
            return 0
        if self.process.poll() is None:
            self.process.send_signal(how)
        try:
            return self.process.wait(30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise
