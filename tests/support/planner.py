"""A planner in the test's own process: works out at once what is asked for, with a short search."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from flask import Flask

from tackwatch.work.house import House
from tackwatch.work.planning import watch
from tackwatch.work.planning.runner import Planner
from tackwatch.work.planning.task import Message, Task
from tackwatch.work.planning.working import work_out


class Here:
    """Works a task out where it stands; what is said waits to be heard."""

    def __init__(self, rounds: int = 30, on_begin: Callable[[], object] = lambda: None) -> None:
        self.rounds = rounds
        self.on_begin = on_begin
        self.tasks: list[Task] = []
        self.said: list[Message] = []
        self.listened = self.stops = 0

    def begin(self, task: Task) -> None:
        self.tasks.append(task)
        self.on_begin()
        self.said = []
        short = replace(task, seconds=60, workers=1, seed=0, samples=300, rounds=self.rounds)
        self.said.append(work_out(short, self.said.append, time.monotonic))

    def hear(self, wait_s: float) -> Message | None:
        self.listened += 1
        return self.said.pop(0) if self.said else None

    def stop(self) -> None:
        self.stops += 1


class Scripted(Here):
    """Says what it is given to say, and then nothing any more."""

    def __init__(self, *said: Message, on_begin: Callable[[], object] = lambda: None) -> None:
        super().__init__(on_begin=on_begin)
        self.script = list(said)

    def begin(self, task: Task) -> None:
        self.tasks.append(task)
        self.on_begin()
        self.said = list(self.script)


class Seconds:
    """Seconds that go by with each look at them."""

    def __init__(self, step_s: float = 0.5) -> None:
        self.now_s, self.step_s = 0.0, step_s

    def __call__(self) -> float:
        self.now_s += self.step_s
        return self.now_s


def planner(app: Flask, solver: Any = None, seconds: Seconds | None = None) -> Planner:
    house: House = app.extensions["tackwatch"]
    return Planner(app.app_context, house.ports, solver or Here(), seconds or Seconds())


def plan_all(app: Flask, solver: Any = None) -> int:
    """Work out all plans that are asked for; give how many."""
    mine = planner(app, solver)
    count = 0
    while mine.look():
        count += 1
    return count


def glance(app: Flask) -> int:
    """Let the planner see what changed; give how many plans it asks for."""
    house: House = app.extensions["tackwatch"]
    with app.app_context():
        return watch.glance(house.ports)
