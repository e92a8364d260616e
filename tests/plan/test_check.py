"""The checker is held against small plans with one thing wrong each, worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from tackwatch.plan.check import Violation, check, score
from tackwatch.plan.model import (
    NEVER,
    Grid,
    Link,
    Person,
    Place,
    Placed,
    Plan,
    Project,
    Score,
    Step,
    Told,
    Use,
    Window,
)

SLOTS = 40
ENDS = np.arange(SLOTS + 1, dtype=np.int64)

SAND = Step(
    "sand", 4, able=("ana",), uses=(Use("bow", 1),), dust_in=("bow",), walk_zone="bow", earliest=1
)
COAT = Step(
    "coat",
    2,
    able=("ana", "ben"),
    uses=(Use("bow", 1),),
    wet_in=("bow",),
    dry_id="touch_dry",
    told=Told(5, ("ben",)),
    walk_zone="bow",
)
NEXT = replace(COAT, id="next", told=None)
LIFT = Step("lift", 2, crew=2, able=("ana", "ben"), walk_zone="deck", by_launch=False)
GRIND = Step("grind", 1, able=("ben",), dust_in=("bow",), walk_zone="bow")
DONE = Step("done", 3, able=("ben",), fixed=Told(0, ("ben",)), walk_zone="deck")

PROJECT = Project(
    grid=Grid(0.0, 900, SLOTS),
    launch=14,
    steps=(SAND, COAT, NEXT, LIFT, GRIND, DONE),
    links=(
        Link("sand", "coat", min_gap=0, max_gap=6),
        Link("coat", "next", window_id="cure", missed_work=3),
    ),
    people=(Person("ana", ((0, 10), (20, 30))), Person("ben", ((0, 10), (20, 30)))),
    places=(Place("bow", 1),),
    windows={"cure": Window(ready=ENDS + 5, last=ENDS + 14)},
    tables={"touch_dry": ENDS + 3},
)
SOUND = {
    "sand": Placed("sand", 1, 5, ("ana",)),
    "coat": Placed("coat", 5, 7, ("ben",)),
    "next": Placed("next", 20, 22, ("ana",)),
    "lift": Placed("lift", 7, 9, ("ana", "ben")),
    "grind": Placed("grind", 26, 27, ("ben",)),
    "done": Placed("done", 0, 3, ("ben",)),
}


def plan_of(project: Project, **placed: Placed) -> Plan:
    ones = tuple((SOUND | placed)[step.id] for step in project.steps)
    return Plan(ones, score(project, ones))


def found(project: Project = PROJECT, **placed: Placed) -> set[Violation]:
    return set(check(project, plan_of(project, **placed)))


def project_with(*steps: Step, **rest: object) -> Project:
    changed = {step.id: step for step in steps}
    return replace(
        PROJECT, steps=tuple(changed.get(step.id, step) for step in PROJECT.steps), **rest
    )


def test_a_sound_plan_breaks_no_rule() -> None:
    assert found() == set()


@pytest.mark.parametrize(
    ("placed", "violations"),
    [
        (Placed("grind", 9, 10, ("ben",)), {Violation("dust_on_wet", "grind", "coat")}),
        (Placed("sand", 0, 4, ("ana",)), {Violation("before_earliest", "sand")}),
        (Placed("sand", 1, 4, ("ana",)), {Violation("wrong_length", "sand")}),
        (Placed("sand", 1, 5, ("ben",)), {
            Violation("not_able", "sand", "ben"), Violation("person_twice", "sand", "ben"),
        }),
        (Placed("lift", 7, 9, ("ana",)), {Violation("wrong_crew", "lift")}),
        (Placed("lift", 7, 9, ("ana", "ana")), {Violation("wrong_crew", "lift")}),
        (Placed("lift", 9, 11, ("ana", "ben")), {
            Violation("not_open", "lift", "ana"), Violation("not_open", "lift", "ben"),
        }),
        (Placed("lift", 6, 8, ("ana", "ben")), {Violation("person_twice", "lift", "ben")}),
        (Placed("lift", 39, 41, ("ana", "ben")), {
            Violation("past_horizon", "lift"),
            Violation("not_open", "lift", "ana"), Violation("not_open", "lift", "ben"),
        }),
        (Placed("done", 1, 4, ("ben",)), {Violation("fixed_moved", "done")}),
        (Placed("done", 0, 3, ("ana",)), {
            Violation("fixed_moved", "done"), Violation("person_twice", "sand", "ana"),
        }),
        (Placed("done", 0, 4, ("ben",)), {Violation("wrong_length", "done")}),
    ],
)  # fmt: skip
def test_each_broken_rule_is_named(placed: Placed, violations: set[Violation]) -> None:
    assert found(**{placed.step_id: placed}) == violations


def test_the_upper_side_of_a_link_is_hard_where_nothing_is_said_of_a_miss() -> None:
    early = Placed("sand", 1, 5, ("ana",))
    late = {"coat": Placed("coat", 20, 22, ("ben",)), "next": Placed("next", 27, 29, ("ana",))}
    lone = Placed("grind", 6, 7, ("ben",))
    assert found(sand=early, grind=lone, **late) == {Violation("too_late", "coat", "sand")}


def test_a_step_that_comes_too_early_is_named_for_gap_and_for_cure() -> None:
    assert found(next=Placed("next", 8, 10, ("ana",))) == {
        Violation("too_early", "next", "coat"),
        Violation("person_twice", "next", "ana"),
    }
    gap = project_with(links=(Link("sand", "coat", min_gap=1), PROJECT.links[1]))
    assert found(gap) == {Violation("too_early", "coat", "sand")}


def test_a_missed_window_is_told_and_its_work_is_done() -> None:
    # The coat ends at 7, so that the last start is at 7 + 14 = 21.
    missed = Placed("next", 22, 27, ("ana",), ("coat",))
    alone = project_with(GRIND, links=PROJECT.links)
    away = Placed("grind", 4, 5, ("ben",))
    assert found(alone, next=missed, grind=away) == set()
    assert found(alone, next=replace(missed, missed=()), grind=away) == {
        Violation("wrong_missed", "next")
    }
    assert found(alone, next=replace(missed, end=24), grind=away) == {
        Violation("wrong_length", "next")
    }
    early = replace(missed, start=20, end=25)
    assert found(alone, next=early, grind=away) == {
        Violation("wrong_length", "next"),
        Violation("wrong_missed", "next"),
    }


def test_a_place_holds_no_more_than_it_says() -> None:
    two = replace(SAND, uses=(Use("bow", 2),))
    assert found(project_with(two)) == {Violation("place_full", "sand", "bow")}
    assert found(project_with(two, places=(Place("bow", 2),))) == set()


def test_two_fixed_steps_may_overlap_and_a_free_one_keeps_clear_of_them() -> None:
    begun = replace(SAND, fixed=Told(1, ("ben",)))
    assert found(project_with(begun), sand=Placed("sand", 1, 5, ("ben",))) == set()
    assert found(coat=Placed("coat", 2, 4, ("ben",))) >= {Violation("person_twice", "coat", "ben")}


def test_a_step_that_is_not_there_or_there_twice_is_named() -> None:
    whole = plan_of(PROJECT)
    assert check(PROJECT, replace(whole, placed=whole.placed[1:])) == (
        Violation("not_placed", "sand"),
    )
    assert check(PROJECT, replace(whole, placed=(*whole.placed, whole.placed[0]))) == (
        Violation("placed_twice", "sand"),
    )
    strange = replace(whole.placed[0], step_id="paint")
    assert check(PROJECT, replace(whole, placed=(*whole.placed, strange))) == (
        Violation("unknown_step", "paint"),
    )
    assert check(PROJECT, replace(whole, placed=whole.placed[::-1])) == (Violation("out_of_order"),)


def test_a_wrong_score_and_a_bound_above_the_lateness_are_named() -> None:
    whole = plan_of(PROJECT)
    better = replace(whole.score, late=0)
    assert check(PROJECT, replace(whole, score=better)) == (Violation("wrong_score"),)
    assert check(PROJECT, replace(whole, late_bound=14)) == (Violation("wrong_bound"),)
    assert check(PROJECT, replace(whole, late_bound=13)) == ()


def test_the_score_is_that_of_the_rules_worked_by_hand() -> None:
    # Late: grind ends at 27, the launch is at 14; lift may come later. Moved: coat stands as told.
    # Idle: ana 1-5, 7-9 (2 idle), 20-22; ben 0-3, 5-7 (2 idle), 7-9, 26-27 in the second span.
    # Walks: ana bow to deck; ben deck, bow, deck. Work: ana 4 + 2 + 2, ben 3 + 2 + 2 + 1; mean 8.
    assert plan_of(PROJECT).score == Score(13, 0, 0, 4 + 3, 0)
    moved = plan_of(PROJECT, coat=Placed("coat", 6, 8, ("ana",)))
    assert moved.score.moved == 2
    missed = plan_of(PROJECT, next=Placed("next", 22, 27, ("ana",), ("coat",)))
    assert missed.score.missed_work == 3
    assert missed.score.uneven == 11 - 19 // 2


def test_a_table_may_reach_past_the_horizon_and_never_come() -> None:
    never = project_with(windows={"cure": Window(ready=np.full(SLOTS + 1, NEVER), last=None)})
    assert Violation("too_early", "next", "coat") in found(never)
