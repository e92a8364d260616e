"""What the facts of a step make of it in the project: done, being laid, begun, held, told."""

from dataclasses import replace
from datetime import timedelta

from tackwatch.plan.build import build
from tackwatch.plan.facts import (
    RefitLink,
    RefitStep,
    ToldPiece,
)
from tackwatch.plan.model import Told
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.types import Coat
from tests.plan.small_refit import (
    BOW,
    COAT,
    NEXT,
    NOW_AT,
    PRIMER,
    SAND,
    WET,
    codes,
    facts,
    hours_ago,
    laid,
    link_of,
)
from tests.support.simple_plan import simple_plan


def test_a_coat_that_is_being_laid_is_fixed_and_its_window_counts_its_path_from_the_start() -> None:
    start_at = hours_ago(1.0)
    laying = replace(laid(COAT, start_at, None), at_it=("ben",))
    built = build(facts(laying, NEXT, links=(WET,)))
    step = built.project.step_of["coat"]
    assert (step.fixed, step.work) == (Told(0, ("ben",)), 8)
    window = built.project.windows[link_of(built, "coat", "next").window_id or ""]
    whole = Coat("whole", PRIMER, start_at, NOW_AT + timedelta(hours=2))
    clocks = {one.stage: one for one in coat_clock(whole, facts().track, NOW_AT)}
    assert window.ready[8] == built.clock.up(clocks["recoat_opens"].governing_at)  # type: ignore[arg-type]
    # The next coat takes four hours, this one three.
    assert window.last is not None
    assert window.last[8] == built.clock.before(clocks["recoat_closes"].last_start_at) - 4  # type: ignore[arg-type]


def test_a_coat_that_takes_longer_than_estimated_is_not_over_yet() -> None:
    laying = replace(laid(COAT, hours_ago(9.0), None), at_it=("ben",))
    assert build(facts(laying)).project.step_of["coat"].work == 1


def test_a_coat_that_is_not_dry_keeps_dust_away() -> None:
    done = laid(COAT, hours_ago(1.0), hours_ago(0.5))
    built = build(facts(done, SAND))
    plan = simple_plan(built.project)
    touch_dry = next(one for one in done.laid.clocks if one.stage == "touch_dry")  # type: ignore[union-attr]
    (sand,) = (one for one in plan.placed if one.step_id == "sand")
    assert sand.start == built.clock.up(touch_dry.governing_at)  # type: ignore[arg-type]


def test_the_rest_of_a_coat_is_work_and_what_lies_keeps_its_clocks() -> None:
    part = laid(replace(COAT, labour_h=6.0), hours_ago(2.5), hours_ago(1.0))
    built = build(facts(replace(part, state="under_way"), NEXT, links=(WET,)))
    assert built.project.step_of["coat"].work == 18
    assert {(one.before, one.after) for one in built.project.links} == {
        ("coat#laid", "next"),
        ("coat", "next"),
    }


def test_a_coat_that_was_nearly_all_laid_is_taken_for_done_and_told() -> None:
    most = replace(laid(COAT, hours_ago(4.0), hours_ago(1.0)), state="under_way")
    built = build(facts(most, NEXT, links=(WET,)))
    assert built.parts["coat"].standing == "done"
    assert ("coat", "looks_finished") in codes(built)


def test_a_coat_that_cures_on_half_of_its_area_has_another_half_to_be_laid() -> None:
    done = laid(replace(COAT, labour_h=2.0), hours_ago(2.5), hours_ago(0.5))
    assert done.laid is not None
    half = replace(done, laid=replace(done.laid, area_m2=5.0))
    built = build(facts(half, NEXT, links=(WET,)))
    assert built.parts["coat"].standing == "begun"
    assert built.project.step_of["coat"].work == 4
    assert {one.before for one in built.project.links} == {"coat#laid", "coat"}
    whole = replace(done, laid=replace(done.laid, area_m2=9.0))
    assert build(facts(whole, NEXT, links=(WET,))).parts["coat"].standing == "done"
    unsaid = build(facts(done, NEXT, links=(WET,)))
    assert unsaid.parts["coat"].standing == "done"


def test_begun_work_takes_what_is_left_of_it_something_at_least() -> None:
    begun = replace(SAND, state="under_way", worked_h=1.5, assignees=("ben",))
    built = build(facts(begun, COAT, links=(RefitLink("sand", "coat"),)))
    assert built.project.step_of["sand"].work == 2
    assert built.project.step_of["sand"].told == Told(0, ("ben",))
    assert [link.after for link in built.project.links] == []
    over = build(facts(replace(begun, worked_h=7.0)))
    assert over.project.step_of["sand"].work == 1


def test_held_work_waits_for_what_is_expected_or_for_tomorrow_and_says_so() -> None:
    expected = replace(SAND, held=True, state="held", expected_at=NOW_AT + timedelta(hours=30.1))
    built = build(facts(expected, replace(COAT, held=True, state="held")))
    assert built.project.step_of["sand"].earliest == 121
    assert built.project.step_of["coat"].earliest == 64
    assert codes(built) == {("coat", "held_unknown")}
    late = build(facts(replace(expected, expected_at=hours_ago(1))))
    assert late.project.step_of["sand"].earliest == 64
    assert codes(late) == {("sand", "held_unknown")}


def test_who_lacks_a_skill_is_not_asked_and_nobody_is_told() -> None:
    paint = replace(COAT, skills=frozenset({"paint"}))
    assert build(facts(paint)).project.step_of["coat"].able == ("ana",)
    wire = build(facts(replace(COAT, skills=frozenset({"paint", "wire"}))))
    assert wire.project.step_of["coat"].able == ()
    assert codes(wire) == {("coat", "nobody_able")}


def test_who_was_named_does_it_until_a_plan_was_told() -> None:
    named = replace(COAT, assignees=("ben",))
    assert build(facts(named)).project.step_of["coat"].able == ("ben",)
    told = ToldPiece(NOW_AT + timedelta(hours=2), NOW_AT + timedelta(hours=5), ("ben", "gone"))
    step = build(facts(replace(named, told=(told,)))).project.step_of["coat"]
    assert step.able == ("ana", "ben")
    assert step.told == Told(8, ("ben",))


def test_a_wait_is_nobodys_and_what_may_wait_until_afloat_has_no_launch() -> None:
    dry = RefitStep("dry", "job", "dry_out", labour_h=48.0, zone_id="bow")
    built = build(facts(dry, replace(SAND, afloat_ok=True)))
    step = built.project.step_of["dry"]
    assert (step.work, step.crew, step.able, step.uses) == (192, 0, (), ())
    assert step.by_launch
    assert not built.project.step_of["sand"].by_launch
    assert built.project.launch == 20 * 96


def test_a_drying_out_that_has_begun_goes_on_for_what_is_left_of_its_hours() -> None:
    dry = RefitStep("dry", "job", "dry_out", state="under_way", labour_h=48.0)
    built = build(
        facts(replace(dry, started_at=hours_ago(30)), COAT, links=(RefitLink("coat", "dry"),))
    )
    step = built.project.step_of["dry"]
    assert (step.fixed, step.work) == (Told(0, ()), 18 * 4)
    assert (
        simple_plan(built.project).placed[1].start == 96
    )  # in the night it is dry; ana comes at eight
    over = build(facts(replace(dry, started_at=hours_ago(60))))
    assert over.project.step_of["dry"].work == 1
    unknown = build(facts(dry))
    assert unknown.project.step_of["dry"].work == 48 * 4


def test_a_crew_that_is_larger_than_its_zone_takes_all_of_it() -> None:
    many = replace(SAND, crew_size=2)
    built = build(facts(many, zones=(replace(BOW, holds=1),)))
    assert built.project.step_of["sand"].uses[0].units == 1
    assert codes(built) == {("sand", "crew_over_zone")}


def test_what_is_laid_is_wet_in_its_zone_until_it_is_touch_dry_on_the_slow_edge() -> None:
    trip = RefitStep("trip", "job", "trip", zone_id="bow", labour_h=1.0)
    built = build(facts(COAT, SAND, trip))
    coat, sand, away = (built.project.step_of[id_] for id_ in ("coat", "sand", "trip"))
    assert (coat.wet_in, coat.dust_in, coat.walk_zone) == (("bow",), (), "bow")
    assert (sand.wet_in, sand.dust_in, sand.walk_zone) == ((), ("bow",), "bow")
    assert (away.wet_in, away.dust_in, away.walk_zone) == ((), (), None)
    whole = Coat("a", PRIMER, NOW_AT, NOW_AT + timedelta(hours=3))
    clocks = {one.stage: one for one in coat_clock(whole, facts().track, NOW_AT)}
    dry_at = clocks["touch_dry"].governing_at
    assert dry_at is not None
    assert built.project.tables[coat.dry_id or ""][12] == built.clock.up(dry_at)
    unknown = build(facts(replace(COAT, profile=None))).project.step_of["coat"]
    assert (unknown.wet_in, unknown.dry_id) == (("bow",), None)
