"""Each answer is held to a plan that is made with it: from the facts where they can say it, by the engine's search."""

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import count

import pytest

from tackwatch.plan.build import Built, build, planned_steps
from tackwatch.plan.check import check, score
from tackwatch.plan.engine import Budget, CannotPlaceError, solve
from tackwatch.plan.facts import DaysOff, Facts, Member, RefitLink
from tackwatch.plan.infeasible import Answer, answers, changed, nowhere
from tackwatch.plan.infeasible.afloat import able_to_wait
from tackwatch.plan.infeasible.quick import done_at, quick_plan
from tackwatch.plan.model import Placed, Plan, Project, Slot
from tests.plan.small_refit import ANA, BEN, COAT, NEXT, NOW_AT, SAND, WET, facts
from tests.support.random_facts import random_facts

PAINTING = replace(SAND, kind="mask", skills=frozenset({"paint"}), labour_h=8.0)
WEEK = Member("ben", work_days=frozenset(range(1, 6)))


def best(project: Project, rounds: int = 2) -> Plan:
    ticks = count()
    plan = solve(project, Budget(1e9, rounds=rounds), clock=lambda: float(next(ticks)))
    assert check(project, plan) == ()
    return plan


def asked(refit: Facts) -> tuple[Built, Plan, tuple[Answer, ...]]:
    built = build(refit)
    plan = best(built.project)
    return built, plan, answers(built, plan)


def by_code(found: tuple[Answer, ...]) -> dict[str, Answer]:
    return {one.code: one for one in found}


def soonest(refit: Facts) -> Slot:
    """Give when all is done of a refit, by a search of its own."""
    built = build(refit)
    return done_at(built.project, best(built.project).placed)


def late_painting(**more: object) -> Facts:
    steps = tuple(replace(PAINTING, id=f"mask{i}", zone_id=None) for i in range(3))
    return facts(*steps, launch_at=NOW_AT + timedelta(days=1), **more)


def test_a_plan_in_time_needs_no_answer():
    assert asked(facts(SAND))[2] == ()


def test_one_more_with_the_skill_for_two_days():
    refit = late_painting()
    _, plan, found = asked(refit)
    one = by_code(found)["person"]
    assert one.params == {"n": 1, "on": NOW_AT.date(), "skill_id": "paint"}
    more = Member(
        "more", work_days=ANA.work_days, skills=ANA.skills,
        away=(DaysOff(NOW_AT.date() + timedelta(days=2), date(2027, 1, 1)),),
    )  # fmt: skip
    with_it = soonest(replace(refit, members=(*refit.members, more)))
    assert with_it <= one.done < done_at(build(refit).project, plan.placed)


def test_too_few_people_decide():
    built, plan, found = asked(late_painting())
    late = {
        one.step_id
        for one in planned_steps(built, plan.placed)
        if one.end_at > built.facts.launch_at
    }
    assert (found[0].code, set(found[0].step_ids)) == ("late_people", late)


def test_longer_days():
    # Work of five hours is not cut, and two of it fit into ten hours.
    steps = tuple(replace(SAND, id=f"s{i}", zone_id=None, labour_h=5.0) for i in range(3))
    short = replace(ANA, day_ends=time(16))
    refit = facts(*steps, members=(short,), launch_at=NOW_AT + timedelta(days=1))
    _, _, found = asked(refit)
    one = by_code(found)["hours"]
    assert one.params == {"hours": 2}
    assert soonest(replace(refit, members=(replace(short, day_ends=time(18)),))) <= one.done


def test_days_grow_past_midnight_and_not_past_sixteen_hours():
    night = replace(ANA, day_starts=time(14), day_ends=time(23))
    long = replace(ANA, day_starts=time(5), day_ends=time(20))
    members = changed.longer_days(facts(members=(night, long)), 2).members
    assert [one.day_ends for one in members] == [time(1), time(21)]


def test_a_free_day_is_worked_on():
    # NOW_AT is a Monday; twelve masks take eight days of one person, so a week and a half.
    steps = tuple(replace(SAND, id=f"s{i}", zone_id=None, labour_h=8.0) for i in range(7))
    refit = facts(*steps, members=(WEEK,), launch_at=NOW_AT + timedelta(days=5))
    built, _, found = asked(refit)
    one = by_code(found)["free_day"]
    assert one.params == {"on": date(2026, 6, 6)}
    with_it = best(changed.with_free_day(built, date(2026, 6, 6)))
    assert done_at(built.project, with_it.placed) <= one.done


def test_nobody_is_asked_to_work_on_a_day_off_of_theirs_or_of_the_yard():
    steps = tuple(replace(SAND, id=f"s{i}", zone_id=None, labour_h=8.0) for i in range(7))
    saturday, sunday = date(2026, 6, 6), date(2026, 6, 7)
    member = replace(WEEK, away=(DaysOff(saturday, saturday),))
    refit = facts(
        *steps, members=(member,), closed=(DaysOff(sunday, sunday),),
        launch_at=NOW_AT + timedelta(days=5),
    )  # fmt: skip
    assert "free_day" not in by_code(asked(refit)[2])


def test_a_part_that_comes_sooner():
    expected_at = NOW_AT + timedelta(days=3)
    held = replace(SAND, held=True, expected_at=expected_at)
    refit = facts(held, launch_at=NOW_AT + timedelta(days=1))
    _, _, found = asked(refit)
    one = by_code(found)["part"]
    assert (found[0].code, one.step_ids) == ("late_part", ("sand",))
    assert one.params == {"expected_at": expected_at}
    assert soonest(replace(refit, steps=(replace(held, held=False),))) <= one.done


def test_a_cure_that_decides():
    refit = facts(COAT, NEXT, links=(WET,), launch_at=NOW_AT + timedelta(hours=9))
    _, _, found = asked(refit)
    assert found[0].code == "late_cure"
    assert "person" not in by_code(found)


def test_a_later_launch_is_the_soonest_that_the_plan_allows():
    refit = late_painting()
    _, _, found = asked(refit)
    one = by_code(found)["launch"]
    later = build(replace(refit, launch_at=one.params["launch_at"]))
    sooner = build(replace(refit, launch_at=one.params["launch_at"] - timedelta(minutes=15)))
    assert best(later.project).score.late == 0
    assert best(sooner.project).score.late == 1


def jobs_of_days(*steps, **more: object) -> Facts:
    whole = (replace(one, id=one.job_id, labour_h=8.0, zone_id=None) for one in steps)
    return facts(*whole, members=(BEN,), launch_at=NOW_AT + timedelta(hours=9), **more)


def test_a_job_that_nobody_marked_is_asked_after():
    refit = jobs_of_days(replace(SAND, job_id="hull"), replace(SAND, job_id="shelf"))
    _, _, found = asked(refit)
    left = [one for one in found if one.code == "mark_afloat"]
    assert [one.params for one in left] == [{"job_id": "hull"}, {"job_id": "shelf"}]
    for one in left:
        marked = tuple(
            replace(step, afloat_ok=step.job_id == one.params["job_id"]) for step in refit.steps
        )
        assert soonest(replace(refit, steps=marked)) <= one.done
    assert "afloat" not in by_code(found)


def test_what_waits_for_a_job_is_left_with_it_and_what_stands_under_water_is_not():
    steps = replace(SAND, job_id="hull"), replace(SAND, job_id="shelf")
    waits = jobs_of_days(*steps, links=(RefitLink("shelf", "hull"),))
    left = [one for one in asked(waits)[2] if one.code == "mark_afloat"]
    assert {one.params["job_id"]: one.step_ids for one in left} == {
        "hull": ("hull", "shelf"), "shelf": ("shelf",),
    }  # fmt: skip
    for what in (steps[0], replace(steps[0], afloat_ok=True)):
        under_water = jobs_of_days(
            what, replace(COAT, job_id="shelf"), links=(RefitLink("shelf", "hull"),)
        )
        found = by_code(asked(under_water)[2])
        assert not found.keys() & {"afloat", "mark_afloat"}


def able(*steps, **more: object) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """Give the jobs that go with each that may be left: of the marked, and of the unmarked."""
    found = able_to_wait(build(jobs_of_days(*steps, **more)))
    marked, unmarked = (
        {job_id: set(unit.job_ids) for job_id, unit in ones.items()}
        for ones in (found.marked, found.unmarked)
    )
    return marked, unmarked


def test_only_what_the_owner_marked_counts_as_able_to_wait_with_all_that_waits_for_it():
    hull, shelf, winch = (replace(SAND, job_id=id_) for id_ in ("hull", "shelf", "winch"))
    after = (RefitLink("shelf", "hull"), RefitLink("winch", "shelf"))
    each = {"hull": {"hull", "shelf", "winch"}, "shelf": {"shelf", "winch"}, "winch": {"winch"}}
    yes = {"afloat_ok": True}
    marked = [replace(one, **yes) for one in (hull, shelf, winch)]
    assert able(*marked, links=after) == (each, {})
    assert able(hull, shelf, winch, links=after) == ({}, each)
    # The last in the row is not marked: nothing before it can be left on the owner's word.
    assert able(marked[0], marked[1], winch, links=after) == ({}, each)
    assert able(hull, *marked[1:], links=after) == (
        {"shelf": each["shelf"], "winch": each["winch"]}, {"hull": each["hull"]},
    )  # fmt: skip
    # What is marked may be paint under water, also where something that is not has to go with it.
    coat = replace(COAT, job_id="shelf", **yes)
    assert able(hull, coat, links=after[:1]) == ({"shelf": {"shelf"}}, {"hull": {"hull", "shelf"}})
    begun = replace(winch, state="under_way", **yes)
    assert able(*marked[:2], begun, links=after) == (
        {"hull": {"hull", "shelf"}, "shelf": {"shelf"}},
        {},
    )


@pytest.mark.parametrize("seed", range(3))
def test_no_answer_leaves_what_is_not_marked(seed):
    refit = random_facts(seed, 30, 3)
    steps = tuple(replace(one, afloat_ok=int(one.job_id[3:]) % 2 == 0) for one in refit.steps)
    built = build(replace(refit, steps=steps, launch_at=refit.now_at + timedelta(days=3)))
    marked = {one.id: one.afloat_ok for one in steps}
    for one in answers(built, best(built.project, rounds=1)):
        if one.code == "afloat":
            assert all(marked[id_] for id_ in one.step_ids)
        if one.code == "mark_afloat":
            assert not all(marked[id_] for id_ in one.step_ids)


def test_a_step_that_nobody_can_do_needs_somebody_with_the_skill():
    refit = facts(replace(PAINTING, skills=frozenset({"rig"})))
    built = build(refit)
    with pytest.raises(CannotPlaceError) as error:
        best(built.project)
    (one,) = nowhere(built, error.value)
    assert (one.code, one.step_ids, one.params) == ("skill", ("sand",), {"n": 1, "skill_id": "rig"})
    more = Member("more", work_days=ANA.work_days, skills=frozenset({"rig"}))
    assert soonest(replace(refit, members=(*refit.members, more))) <= one.done


def test_each_step_that_nobody_can_do_is_told():
    steps = [replace(PAINTING, id=id_, skills=frozenset({id_})) for id_ in ("rig", "weld")]
    built = build(facts(*steps))
    with pytest.raises(CannotPlaceError) as error:
        best(built.project)
    found = nowhere(built, error.value)
    assert {one.params["skill_id"] for one in found} == {"rig", "weld"}
    assert found[-1].done is not None


def test_two_who_are_never_there_together_need_longer_days():
    morning, evening = replace(BEN, day_ends=time(12)), replace(ANA, day_starts=time(14))
    refit = facts(replace(SAND, crew_size=2, labour_h=2.0), members=(morning, evening))
    built = build(refit)
    with pytest.raises(CannotPlaceError) as error:
        best(built.project)
    (one,) = nowhere(built, error.value)
    assert (one.code, one.params) == ("hours", {"hours": 3})
    longer = replace(refit, members=(replace(morning, day_ends=time(15)), evening))
    assert soonest(longer) <= one.done


@pytest.mark.parametrize("seed", range(3))
def test_every_project_that_is_tried_has_a_sound_plan_and_answers_buy_what_they_say(seed):
    refit = random_facts(seed, 30, 3)
    built = build(replace(refit, launch_at=refit.now_at + timedelta(days=3)))
    plan = best(built.project, rounds=1)
    assert plan.score.late
    found = answers(built, plan)
    done = done_at(built.project, plan.placed)
    buys = [one.done for one in found[1:]]
    assert buys == sorted(buys)
    assert all(one < done for one in buys[:-1])
    assert buys[-1] == done
    for project in (
        changed.without_cures(built),
        changed.without_crowding(built.project),
        changed.with_everybody_twice(built.project),
        changed.with_longer_days(built.project, 2),
    ):
        quick = quick_plan(project, plan)
        assert quick is not None
        assert check(project, quick) == ()


def test_what_is_enough_is_enough():
    built = build(late_painting())
    found = answers(built, best(built.project), enough=lambda: True)
    assert [one.code for one in found if one.code != "mark_afloat"] == ["late_chain", "launch"]


def test_what_planning_again_would_buy_is_no_answer():
    built = build(facts(replace(SAND, zone_id=None), launch_at=NOW_AT + timedelta(hours=2)))
    placed = (Placed("sand", 96, 104, ("ana",)),)
    found = answers(built, Plan(placed, score(built.project, placed)))
    assert [one.code for one in found if one.code != "mark_afloat"] == ["late_chain", "launch"]
