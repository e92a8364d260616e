"""The process in which plans are worked out, begun before there is a plan to work out."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest

from tackwatch.work.planning import child as child_module
from tackwatch.work.planning import process, warm
from tackwatch.work.planning.child import Child
from tackwatch.work.planning.past import Past
from tackwatch.work.planning.task import Done, Failed, Message, Task
from tackwatch.work.planning.working import work_out
from tests.plan.small_refit import SAND, facts
from tests.support.planner import Seconds
from tests.support.random_facts import random_facts

TASK = Task(
    facts(SAND), Past((), (), (), (), frozenset()), 60, workers=1, samples=100, rounds=1
)  # fmt: skip


@pytest.fixture
def child(tmp_path: Path) -> Iterator[Child]:
    made = Child(tmp_path / "compiled")
    yield made
    made.stop()


def end_of(child: Child) -> Message:
    ends_at = time.monotonic() + 100
    while time.monotonic() < ends_at:
        said = child.hear(1)
        if isinstance(said, Done | Failed):
            return said
    raise AssertionError("nothing came of it")


def test_a_task_that_comes_while_all_is_compiled_is_worked_out(
    child: Child, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(child_module, "all_compiled", lambda _: False)
    assert child.warm_up()
    begun = child.pid
    child.begin(TASK)
    assert isinstance(end_of(child), Done)
    assert child.pid == begun


def test_nothing_is_begun_where_all_is_compiled(
    child: Child, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(child_module, "all_compiled", lambda _: True)
    assert not child.warm_up()
    assert child.pid is None


class Counted:
    """A child of which only this is asked: to compile what is not compiled yet."""

    def __init__(self) -> None:
        self.asked = 0

    def warm_up(self) -> bool:
        self.asked += 1
        return True


def test_it_is_begun_once_when_the_process_has_settled() -> None:
    counted, seconds = Counted(), Seconds(process.SETTLE_S / 3)
    warming = process._Warming(counted, seconds)
    asked = []
    for _ in range(5):
        warming.mind()
        asked.append(counted.asked)
    assert asked == [0, 0, 1, 1, 1]


def compiled() -> dict[str, int]:
    """Give for how many sorts of arguments each function was compiled."""
    from tackwatch.plan.engine.compiled import packing, restore, search
    from tackwatch.plan.forecast.compiled import play

    return {
        f"{module.__name__}.{name}": len(one.signatures)
        for module in (search, restore, packing, play)
        for name, one in vars(module).items()
        if hasattr(one, "signatures") and one.signatures
    }


def warm_and_plan() -> tuple[dict[str, int], dict[str, int]]:
    """Give what is compiled after the invented refit, and after some random ones besides."""
    warm.warm_up(time.monotonic)
    before = compiled()
    for seed in range(2):
        refit = random_facts(seed, 30, 3)
        task = replace(TASK, facts=refit, past=replace(TASK.past, afloat=frozenset({"job0"})))
        assert isinstance(work_out(task, lambda _: None, time.monotonic), Done)
    return before, compiled()


def test_nothing_is_left_to_be_compiled_after_the_invented_refit() -> None:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as fresh:
        before, after = fresh.submit(warm_and_plan).result()
    assert {name.rsplit(".", 1)[1] for name in before} >= {"better", "restore", "play"}
    assert after == before
