"""Plays histories and tells what came of them."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.simulation.books import ViolationError
from tests.simulation.events import EVENTS
from tests.simulation.history import History
from tests.simulation.house import House
from tests.simulation.oracle import judge
from tests.simulation.phones import Phones
from tests.simulation.quiet import come_to_rest

ONE_IN = 25  # histories on PostgreSQL


@dataclass(frozen=True, slots=True)
class Told:
    """How one history ended."""

    seed: int
    violation: str
    detail: str
    trace: tuple[str, ...]
    digest: str
    devices: int
    operations: int
    hazards: Counter[str]


@dataclass
class Stage:
    """What histories are played on: one server for each database, and one process of phones."""

    sqlite: House
    phones: Phones
    postgres: House | None = None
    one_in: int = ONE_IN  # on PostgreSQL

    def play(self, seed: int) -> Told:
        """Play a history and judge it."""
        on_postgres = self.postgres is not None and seed % self.one_in == 0
        house = self.postgres if on_postgres and self.postgres else self.sqlite
        history = History(seed, house, self.phones)
        violation, detail = "", ""
        try:
            history.play(EVENTS)
            judge(history, come_to_rest(history))
        except ViolationError as error:
            violation, detail = error.kind, str(error)
        if on_postgres:
            history.count("on PostgreSQL")
        return Told(
            seed, violation, detail, tuple(history.trace), history.digest(),
            len(history.keys), history.operations, history.books.hazards,
        )  # fmt: skip


@contextmanager
def stage(postgres_url: str | None = None, one_in: int = ONE_IN) -> Iterator[Stage]:
    """Set a stage up; its files lie in memory where the machine has such a place."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="twsim-", dir=memory if memory.is_dir() else None))
    with ExitStack() as stack:
        stack.callback(shutil.rmtree, folder, ignore_errors=True)
        sqlite = House(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}")
        stack.callback(sqlite.close)
        postgres = None
        if postgres_url is not None:
            postgres = House(folder, postgres_url)
            stack.callback(postgres.close)
        phones = stack.enter_context(Phones())
        yield Stage(sqlite, phones, postgres, one_in)


@dataclass
class Summary:
    """What many histories came to."""

    histories: int = 0
    devices: int = 0
    operations: int = 0
    seconds: float = 0.0
    hazards: Counter[str] = field(default_factory=Counter)
    failed: list[Told] = field(default_factory=list)

    def add(self, told: Told) -> None:
        self.histories += 1
        self.devices += told.devices
        self.operations += told.operations
        self.hazards += told.hazards
        if told.violation:
            self.failed.append(told)


def run(seeds: Iterable[int], on: Stage, stop: bool = False) -> Summary:
    """Play seeds, up to the first that fails if asked to."""
    began = time.perf_counter()
    summary = Summary()
    for seed in seeds:
        summary.add(on.play(seed))
        if stop and summary.failed:
            break
    summary.seconds = time.perf_counter() - began
    return summary
