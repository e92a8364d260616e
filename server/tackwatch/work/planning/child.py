"""A process beside this one in which plans are worked out, so that a search never delays anything else.

Rules
-----
- It is told a task and says how far it is; it can be ended at any moment, and holds nothing that would be lost.
- It has the lowest priority, and ends by itself when whoever began it is gone.
- It stays for the next task, since its first one takes a while to load, and is let go when none comes for a while.
  What it needs is large, and is loaded there alone.
- Where not all is compiled yet it can be begun before there is a task, and compiles while nobody waits. A task that
  comes meanwhile follows as soon as what is in hand has ended.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from traceback import format_exception, print_exc
from typing import Protocol

from tackwatch.work.planning.compiled_code import all_compiled, keep_compiled, note_all_compiled
from tackwatch.work.planning.task import Failed, Message, Progress, Task

IDLE_S = 300.0
_GRACE_S = 10.0
_NICE = 10


class Solver(Protocol):
    """Works tasks out, one at a time."""

    def begin(self, task: Task) -> None:
        """Take a task on."""
        ...

    def hear(self, wait_s: float) -> Message | None:
        """Give what is said next, or nothing when nothing was said for so long.

        Raises
        ------
        SolverDiedError
            When it ended without having been told to.
        """
        ...

    def stop(self) -> None:
        """Let go of the task, and of everything else."""
        ...


class SolverDiedError(RuntimeError):
    """The process that worked a plan out has ended."""


class Child:
    """A process that works plans out.

    Parameters
    ----------
    cache_dir
        Where compiled code is kept if it cannot be kept beside the program.
    idle_s
        How long it stays when nothing is asked of it.
    """

    def __init__(self, cache_dir: Path, idle_s: float = IDLE_S) -> None:
        self._cache_dir = cache_dir
        self._idle_s = idle_s
        self._process: BaseProcess | None = None
        self._line: Connection | None = None

    @property
    def pid(self) -> int | None:
        """The process's number while there is one."""
        return None if self._process is None else self._process.pid

    def warm_up(self) -> bool:
        """Begin to compile what is not compiled yet; say whether there is anything."""
        if all_compiled(keep_compiled(self._cache_dir)):
            return False
        if self._process is not None:  # it has compiled what a plan needed
            return False
        self._start(warm=True)
        return True

    def begin(self, task: Task) -> None:
        """Take a task on."""
        if self._process is None or not self._process.is_alive():
            self.stop()
            self._start()
        try:
            self._tell(task)
        except OSError:  # it was just let go for idling
            self.stop()
            self._start()
            self._tell(task)

    def hear(self, wait_s: float) -> Message | None:
        """Give what is said next."""
        assert self._line is not None  # noqa: S101 - nobody listens before a task
        try:
            return self._line.recv() if self._line.poll(wait_s) else None
        except (EOFError, OSError):
            self.stop()
            raise SolverDiedError("the process that worked the plan out has ended") from None

    def stop(self) -> None:
        """End the process, whatever it is doing."""
        process, self._process = self._process, None
        line, self._line = self._line, None
        if line is not None:
            line.close()
        if process is not None:
            process.kill()
            process.join(_GRACE_S)
            if process.exitcode is not None:
                process.close()

    def _start(self, *, warm: bool = False) -> None:
        # a fresh interpreter: nothing of the database's connections, locks and threads goes along
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        given = (theirs, os.getpid(), self._idle_s, keep_compiled(self._cache_dir), warm)
        self._process = context.Process(target=_serve, args=given)
        self._process.start()
        theirs.close()

    def _tell(self, task: Task) -> None:
        assert self._line is not None  # noqa: S101
        self._line.send(task)


def _serve(line: Connection, parent: int, idle_s: float, kept_in: Path, warm: bool) -> None:
    """Work out what comes along the line, until nothing comes any more."""
    for which in (signal.SIGINT, signal.SIGTERM):  # whoever began this one ends it
        signal.signal(which, signal.SIG_IGN)
    with contextlib.suppress(OSError):
        os.nice(_NICE)
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    with contextlib.suppress(EOFError, OSError):
        if warm:
            _warm(kept_in)
        while line.poll(idle_s):
            _answer(line, line.recv())


def _warm(kept_in: Path) -> None:
    """Compile all that the search needs."""
    from tackwatch.work.planning.warm import warm_up

    try:
        warm_up(time.monotonic)
        note_all_compiled(kept_in)
    except Exception:  # the next plan finds out, and tells
        print_exc()


def _answer(line: Connection, task: Task) -> None:
    from tackwatch.work.planning.working import work_out

    def tell(progress: Progress) -> None:
        line.send(progress)

    try:
        line.send(work_out(task, tell, time.monotonic))
    except OSError:
        raise
    except (
        Exception
    ) as error:  # ours to put right: the log is told, and the person that no plan came of it
        line.send(Failed("planner-trouble", detail=_account(error)))


def _account(error: Exception) -> str:
    return "".join(format_exception(error))[-4000:]


def _end_with(parent: int) -> None:
    """End at once when whoever began this process is gone."""
    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)
