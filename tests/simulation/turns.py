"""Two requests at once, each in a thread of its own, that take turns statement by statement as chance has it.

Only one runs at a time, so the same chance gives the same story. A statement that waits for the other's lock gives its
turn away: on PostgreSQL the database says who waits; on SQLite it is known who has begun to write.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from random import Random
from typing import Any

import psycopg

LOOK_EVERY_S = 0.002
PATIENCE_S = 30


class Turn:
    """One of the two."""

    def __init__(self, work: Callable[[], Any]) -> None:
        self.answer: Any = None
        self.error: BaseException | None = None
        self.done = False
        self.waits = False  # for the other's lock, inside a statement
        self.wants_to_write = False  # its next statement begins to write, where only one may
        self.writes = False
        self.ending = False  # its next step ends its transaction
        self.backend: int | None = None  # of PostgreSQL
        self.may_go = threading.Semaphore(0)
        self.arrived = threading.Event()
        self.thread = threading.Thread(target=self._run, args=(work,), daemon=True)

    def _run(self, work: Callable[[], Any]) -> None:
        self.may_go.acquire()
        try:
            self.answer = work()
        except BaseException as error:
            self.error = error
        self.done = True
        self.writes = False
        self.arrived.set()

    def step(self, statement: str, backend: int | None) -> None:
        """Stop before a statement until it is this one's turn again."""
        if self.ending:
            self.writes = self.ending = False
        self.backend = backend
        self.wants_to_write = statement == "BEGIN IMMEDIATE"
        self.arrived.set()
        self.may_go.acquire()
        if self.wants_to_write:
            self.writes = True
        self.ending = statement == "COMMIT"


class Turns:
    """Lets two pieces of work take turns."""

    def __init__(
        self, chance: Random, works: list[Callable[[], Any]], looks_at: str | None
    ) -> None:
        self._chance = chance
        self._turns = [Turn(work) for work in works]
        self._of_thread = {turn.thread: turn for turn in self._turns}
        self._eye = None if looks_at is None else psycopg.connect(looks_at, autocommit=True)

    def step(self, statement: str, backend: int | None) -> None:
        """Be told by the engine of what is to be executed, in whichever thread."""
        turn = self._of_thread.get(threading.current_thread())
        if turn is not None:
            turn.step(statement, backend)

    def run(self) -> list[Any]:
        """Let both run to their ends, and give what each came to."""
        for turn in self._turns:
            turn.thread.start()
        while not all(turn.done for turn in self._turns):
            ready = [turn for turn in self._turns if self._may_go(turn)]
            self._go(self._chance.choice(ready))
        for turn in self._turns:
            turn.thread.join(PATIENCE_S)
            if turn.error is not None:
                raise turn.error
        if self._eye is not None:
            self._eye.close()
        return [turn.answer for turn in self._turns]

    def _other(self, turn: Turn) -> Turn:
        return self._turns[1 - self._turns.index(turn)]

    def _may_go(self, turn: Turn) -> bool:
        return not (turn.done or turn.waits or (turn.wants_to_write and self._other(turn).writes))

    def _go(self, turn: Turn) -> None:
        """Let one go on to its next statement, its end, or a lock."""
        other = self._other(turn)
        ended = turn.ending
        turn.arrived.clear()
        turn.may_go.release()
        self._await(turn)
        if other.waits and (ended or turn.done):
            # the lock is free: whoever waited for it comes by itself
            other.arrived.wait(PATIENCE_S)
            other.waits = False

    def _await(self, turn: Turn) -> None:
        while not turn.arrived.wait(PATIENCE_S if self._eye is None else LOOK_EVERY_S):
            if self._eye is None:
                raise TimeoutError("a request neither ends nor goes on")
            if turn.backend is not None and self._is_locked_out(turn.backend):
                turn.waits = True
                return

    def _is_locked_out(self, backend: int) -> bool:
        assert self._eye is not None
        query = "SELECT wait_event_type FROM pg_stat_activity WHERE pid = %s"
        found = self._eye.execute(query, (backend,)).fetchone()
        return found is not None and found[0] == "Lock"
