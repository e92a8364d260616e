"""Putting back what moved: nothing is broken for it, nothing becomes late for it, and what can go back does."""

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.plan.check import check, score
from tackwatch.plan.engine import Budget, keys, solve
from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.compiled.restore import restore
from tackwatch.plan.engine.course import START_BACKS
from tackwatch.plan.engine.hands import Hand, Hands, read_plan
from tackwatch.plan.engine.region import choose
from tackwatch.plan.engine.region.model import Limits, PartModel
from tackwatch.plan.model import Project, Told
from tests.support.changed_refits import changed
from tests.support.random_refits import random_project

DAY = 96
SEEDS = st.integers(0, 10_000)


def changed_refit(seed: int) -> Project:
    project = random_project(seed, 60, 4)
    plan = solve(project, Budget(1e9, 1, seed, rounds=1), clock=lambda: 0.0)
    return changed(project, plan, seed)


def hands_of(project: Project) -> Hands:
    hands = Hands(to_arrays(project), 1, 1)
    hands.begin(project, None)
    return hands


@settings(max_examples=10, deadline=None)
@given(seed=SEEDS, heat=st.sampled_from([0.0, 3.0]), dear=st.sampled_from([0.3, 30.0]))
def test_what_was_put_back_breaks_no_rule_and_nothing_is_worse_for_it(seed, heat, dear):
    project = changed_refit(seed)
    hand = hands_of(project).best
    before = hand.cares()
    hand.put_back(300, DAY, heat, dear)
    assert hand.cares() <= before
    plan = read_plan(project, hand.a, hand)
    assert check(project, plan) == ()
    assert score(project, plan.placed) == plan.score


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS)
def test_the_desk_is_after_many_tries_as_if_all_had_been_laid_anew(seed):
    hand = hands_of(changed_refit(seed)).best
    assert hand.lacking == 0
    start, crew = np.zeros(len(hand.a.steps), dtype=np.int32), hand.desk.crew.copy()
    restore(hand.a, hand.desk, hand.levels, hand.state, 400, DAY, 0, 3.0, 0.3, start, crew)
    anew = Hands(hand.a, 1, 1).all[0]
    keys.copy(keys.by_starts(hand.a, hand.desk.steps["start"], hand.desk.crew), anew.keys)
    anew.draw_up()
    for name in ("start", "end", "wet"):
        assert (hand.desk.steps[name] == anew.desk.steps[name]).all(), name
    assert (np.sort(hand.desk.crew) == np.sort(anew.desk.crew)).all()
    for name in ("owner", "free", "taken", "missed", "load"):
        assert (getattr(hand.desk, name) == getattr(anew.desk, name)).all(), name


def moved_by_a_day(project: Project) -> tuple[Hand, int]:
    """Give a hand with a plan in which all that people do begins a day later than they were told, or later still."""
    a = to_arrays(project)
    hand = Hands(a, 1, 1).all[0]
    way = keys.by_told(a)
    way.steps["aim"], way.steps["rel"] = -1, a.steps["told"] + DAY
    keys.copy(way, hand.keys)
    hand.draw_up()
    assert hand.lacking == 0
    return hand, hand.cares()[3]


@pytest.mark.parametrize("seed", range(4))
def test_what_moved_for_no_reason_goes_back_and_all_of_it(seed):
    project = random_project(seed, 40, 3)
    plan = solve(project, Budget(1e9, 1, seed, rounds=1), clock=lambda: 0.0)
    steps = (
        replace(step, told=Told(one.start, one.people))
        for step, one in zip(project.steps, plan.placed, strict=True)
    )
    told = replace(project, steps=tuple(steps), launch=project.grid.slots)
    hand, moved = moved_by_a_day(told)
    assert moved >= 40
    for _ in range(20):
        hand.put_back(200, DAY, 1.0, 1.0)
    assert hand.cares()[3] == 0


@pytest.mark.parametrize("seed", [6, 8, 18, 28, 31, 39])
def test_windows_that_are_missed_are_met_where_there_is_a_way_to(seed):
    project = random_project(seed, 40, 4)
    plan = solve(project, Budget(1e9, 1, seed, rounds=1), clock=lambda: 0.0)
    hands = hands_of(changed(project, plan, seed))
    missing = 0
    for way in hands._starts:
        hand = hands.all[0]
        keys.copy(way, hand.keys)
        hand.draw_up()
        if hand.lacking == 0 and hand.cares()[2] > 0:
            missing += 1
            for _ in range(4):
                hand.put_back(1_000, DAY, 2.0, 1.0)
            assert hand.cares()[2] == 0
    assert missing > 0


@pytest.mark.parametrize("seed", [2, 6, 9, 14, 28])
def test_windows_are_met_where_nobody_was_told_of_anything(seed):
    a = to_arrays(random_project(seed, 40, 4))
    hand = Hands(a, 1, 1).all[0]
    keys.copy(keys.by_tail(a, 0.0, hand.chance, 0), hand.keys)
    hand.draw_up()
    assert hand.cares()[2] >= 4
    for _ in range(4):
        hand.put_back(1_000, DAY, 2.0, 1.0)
    assert hand.cares() == (0, 0, 0, 0)


def test_planning_again_puts_back(monkeypatch):
    def moved() -> int:
        again = [
            solve(project, Budget(1e9, 1, 1, rounds=1), clock=lambda: 0.0) for project in mornings
        ]
        assert [one.score.late for one in again] == [0, 0, 0]
        return sum(one.score.moved for one in again)

    mornings = [changed_refit(seed) for seed in range(3)]
    put_back = moved()
    monkeypatch.setattr("tackwatch.plan.engine.hands.restore", lambda *_: False)
    assert put_back < 0.8 * moved()


def test_the_clock_leaves_time_for_putting_back_and_some_of_it_is_from_each_way_to_begin(
    monkeypatch,
):
    asked: list[int] = []

    def counted(a, d, levels, state, tries, *others):
        asked.append(tries)
        return restore(a, d, levels, state, tries, *others)

    monkeypatch.setattr("tackwatch.plan.engine.hands.restore", counted)
    solve(changed_refit(1), Budget(2.0, 1, 1), clock=time.monotonic)
    starts = [tries for tries in asked if tries == START_BACKS]
    assert starts
    assert len(asked) > len(starts)


def test_a_late_plan_is_guided_but_not_at_the_end(monkeypatch):
    guided: list[bool] = []

    def noted(hands, how):
        guided.append(how)
        return guide(hands, how)

    guide = Hands.guide
    monkeypatch.setattr(Hands, "guide", noted)
    project = random_project(1, 60, 4, launch_share=0.5)
    plan = solve(project, Budget(1e9, 1, 1, rounds=4), clock=lambda: 0.0)
    assert plan.score.late > 0
    assert guided == [True, True, False, False, False]


def put_back_and_proved(seed: int) -> tuple[tuple[int, ...], tuple[int, ...], int]:
    """Give what putting back came to, what CP-SAT did from there, and its proof of what moves at least."""
    project = random_project(seed, 14, 3)
    plan = solve(project, Budget(1e9, 1, seed, rounds=1), clock=lambda: 0.0)
    hand = hands_of(changed(project, plan, seed)).best
    for turn in range(20):
        hand.put_back(500, DAY, (1.0, 2.0)[turn % 2], (1.0, 30.0)[turn // 2 % 2])
    put_back = hand.cares()
    model = PartModel(hand.a, hand.desk, choose.whole(hand.a, hand.desk, hand.a.slots))
    assert model.build()
    found = model.ask(Limits(1e9, 20.0))
    assert found is not None
    assert found.proved
    hand.take([keys.by_starts(hand.a, found.start, found.crew)])
    return put_back, hand.cares(), found.moved_bound


def test_what_is_put_back_comes_to_what_is_proved_to_be_the_least():
    """The proof is CP-SAT's (Google OR-Tools), with every step free to go anywhere."""
    moved, least, same = 0, 0, 0
    for seed in range(1, 15):
        put_back, proved, bound = put_back_and_proved(seed)
        assert proved[3] == bound
        assert put_back >= proved
        if put_back[:3] == proved[:3]:
            moved, least, same = moved + put_back[3], least + bound, same + 1
    assert same >= 12
    assert moved <= 1.1 * least
