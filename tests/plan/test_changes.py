"""What a plan changes of what the crew was told, counted as the score counts it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tackwatch.plan.build import build, planned_steps
from tackwatch.plan.changes import changes
from tackwatch.plan.facts import Facts, ToldPiece
from tackwatch.plan.model import Placed
from tackwatch.plan.repair import keep_order, keep_times
from tests.plan.small_refit import BEN, NOW_AT, SAND, facts
from tests.support.random_facts import random_facts


def told(start_h: float, end_h: float, *people: str) -> tuple[ToldPiece, ...]:
    start_at, end_at = (NOW_AT + timedelta(hours=h) for h in (start_h, end_h))
    return (ToldPiece(start_at, end_at, people),)


def refit() -> Facts:
    first = replace(SAND, told=told(0, 2, "ben"), assignees=("ben",))
    second = replace(SAND, id="second", told=told(2, 4, "ben"), assignees=("ben",))
    return facts(first, second, members=(BEN,))


def test_what_stands_as_told_is_no_change():
    built = build(refit())
    assert changes(built, keep_times(built.project).placed) == ()


def test_a_later_step_is_told_with_its_times_before_and_after_and_for_whom():
    built = build(refit())
    placed = (Placed("sand", 0, 8, ("ben",)), Placed("second", 12, 20, ("ben",)))
    (one,) = changes(built, placed)
    assert (one.step_id, one.moved, one.for_whom) == ("second", 1, ("ben",))
    assert (one.start_before, one.end_before) == (
        NOW_AT + timedelta(hours=2), NOW_AT + timedelta(hours=4)
    )  # fmt: skip
    assert (one.start_after, one.end_after) == (
        NOW_AT + timedelta(hours=3), NOW_AT + timedelta(hours=5)
    )  # fmt: skip


def test_somebody_else_is_told_to_both():
    built = build(facts(replace(SAND, told=told(0, 2, "ben"), assignees=("ben",))))
    (one,) = changes(built, (Placed("sand", 0, 8, ("ana",)),))
    assert (one.people_before, one.people_after, one.moved) == (("ben",), ("ana",), 1)
    assert one.for_whom == ("ana", "ben")


def test_what_nobody_was_told_of_is_new_and_moves_nothing():
    built = build(facts(SAND))
    (one,) = changes(built, (Placed("sand", 0, 8, ("ana",)),))
    assert (one.start_before, one.end_before, one.people_before, one.moved) == (None, None, (), 0)


@pytest.mark.parametrize("seed", range(4))
def test_changes_come_by_day_and_add_up_to_what_the_score_says_moved(seed):
    built = build(random_facts(seed, 40))
    plan = keep_order(built.project)
    assert plan is not None
    found = changes(built, plan.placed)
    assert sum(one.moved for one in found) == plan.score.moved
    assert [one.start_after for one in found] == sorted(one.start_after for one in found)
    changed = {one.step_id for one in found}
    for one in planned_steps(built, plan.placed):
        step = next(step for step in built.facts.steps if step.id == one.step_id)
        same = step.told and step.told[0].start_at == one.start_at
        if one.step_id not in changed:
            assert same
            assert set(step.assignees) == set(one.member_ids)
