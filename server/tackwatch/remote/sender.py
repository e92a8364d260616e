"""Sending beside the writing: a thread that hands over what waits, and goes on trying by itself while it cannot."""

from __future__ import annotations

import threading
from pathlib import Path

from tackwatch.remote.copy import Copy, NowMs
from tackwatch.remote.errors import LaterError, RemoteError
from tackwatch.remote.exchange import backoff_s, exchange
from tackwatch.remote.follow import Surroundings


class Sender:
    """Sends from a file of its own opening, so that a slow network never holds up the writing.

    Parameters
    ----------
    around
        Its ``pause`` is not used: the thread waits so that it can be ended.
    """

    def __init__(self, path: Path, now_ms: NowMs, around: Surroundings) -> None:
        self._path, self._now_ms, self._around = path, now_ms, around
        self._written = threading.Event()
        self._ending = threading.Event()
        self.stopped_by: RemoteError | None = None
        self._thread = threading.Thread(target=self._run, name="sender", daemon=True)
        self._thread.start()

    def written(self) -> None:
        """Say that something new waits."""
        self._written.set()

    def end(self) -> None:
        """Let a try that runs finish, and stop."""
        self._ending.set()
        self._written.set()
        self._thread.join()

    def _run(self) -> None:
        copy = Copy.open(self._path, self._now_ms)
        try:
            self._send_until_ended(copy)
        except RemoteError as error:
            self.stopped_by = error
            self._around.trouble(error.detail)
        finally:
            copy.close()

    def _send_until_ended(self, copy: Copy) -> None:
        failures = 0
        while not self._ending.is_set():
            self._written.clear()
            try:
                exchange(copy)
                failures = 0
                self._written.wait()
            except LaterError as error:
                failures += 1
                if failures == 1:
                    self._around.trouble(error.detail)
                self._ending.wait(backoff_s(failures, self._around.chance(), error.wait_s))
