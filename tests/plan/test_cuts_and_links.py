"""Long work in pieces, what comes after what, what a missed window costs, and how far the grid reaches."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest

from tackwatch.plan.build import CircleError, Note, build, planned_steps
from tackwatch.plan.build.work import pieces_of
from tackwatch.plan.facts import (
    DaysOff,
    RefitLink,
    RefitStep,
)
from tackwatch.plan.model import Told
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.missed_window import missed_window
from tackwatch.trade.types import Coat, Stage
from tests.plan.small_refit import (
    ANA,
    BEN,
    COAT,
    HULL,
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


def test_a_coat_that_cures_now_opens_and_closes_the_next_by_the_clocks_that_phones_show() -> None:
    done = laid(COAT, hours_ago(4.5), hours_ago(1.0))
    built = build(facts(done, NEXT, links=(WET,)))
    link = link_of(built, "coat", "next")
    clocks = {one.stage: one for one in done.laid.clocks}  # type: ignore[union-attr]
    assert link.min_gap == built.clock.up(clocks["recoat_opens"].governing_at)  # type: ignore[arg-type]
    # The next coat takes half an hour longer than this one did, and must begin by as much earlier.
    assert link.max_gap == built.clock.before(clocks["recoat_closes"].last_start_at) - 2  # type: ignore[arg-type]
    assert built.project.step_of["coat"].fixed == Told(0, ())
    assert built.project.step_of["coat"].by_launch is False


def test_what_is_done_and_opened_long_ago_is_dropped() -> None:
    done = replace(SAND, state="finished", finished_at=hours_ago(50))
    built = build(facts(done, COAT, links=(RefitLink("coat", "sand", min_gap_s=3600.0),)))
    assert [step.id for step in built.project.steps] == ["coat"]
    assert built.project.links == ()


def test_a_gap_after_what_was_finished_a_while_ago_has_begun_to_run() -> None:
    done = replace(SAND, state="finished", finished_at=hours_ago(1))
    built = build(facts(done, COAT, links=(RefitLink("coat", "sand", min_gap_s=4 * 3600.0),)))
    assert link_of(built, "sand", "coat").min_gap == 12
    unknown = build(
        facts(
            replace(done, finished_at=None),
            COAT,
            links=(RefitLink("coat", "sand", min_gap_s=4 * 3600.0),),
        )
    )
    assert link_of(unknown, "sand", "coat").min_gap == 16


def test_a_missed_window_costs_the_sanding_and_cleaning_of_its_area() -> None:
    coat, next_ = replace(COAT, profile=HULL), replace(NEXT, profile=HULL)
    built = build(facts(coat, next_, links=(WET,)))
    labour_h = missed_window(
        "polyurethane", 10.0, HULL.sanding_after_missed_minutes_per_m2
    ).labour_h
    assert labour_h is not None
    assert link_of(built, "coat", "next").missed_work == -int(-labour_h * 4 // 1)
    assert codes(built) == set()


def test_what_missed_windows_cost_together_fits_into_the_day_beside_the_work_and_is_told() -> None:
    under = [replace(COAT, id=f"coat{i}", area_m2=60.0) for i in range(3)]
    links = tuple(RefitLink("next", one.id, by_cure=True) for one in under)
    built = build(facts(*under, replace(NEXT, labour_h=7.0), links=links))
    costs = [link.missed_work or 0 for link in built.project.links]
    assert min(costs) > 1
    assert 28 + sum(costs) <= 36
    assert codes(built) == {("next", "missed_work_cut")}


def test_what_lies_already_closes_before_what_is_still_to_be_laid() -> None:
    part = laid(replace(COAT, labour_h=30.0), hours_ago(2.5), hours_ago(1.0))
    built = build(facts(replace(part, state="under_way"), NEXT, links=(WET,)))
    into = [link for link in built.project.links if link.after == "next"]
    closing = [
        link.before
        for link in into
        if link.max_gap is not None
        or (link.window_id and built.project.windows[link.window_id].last is not None)
    ]
    assert closing == ["coat#laid"]
    assert {link.before for link in into} == {"coat#laid", "coat#1", "coat#2", "coat#3", "coat#4"}


def test_a_missed_window_of_an_unknown_area_costs_something_and_says_so() -> None:
    built = build(facts(COAT, NEXT, links=(WET,), zones=()))
    assert link_of(built, "coat", "next").missed_work == 16
    assert codes(built) == {("next", "missed_labour_unknown")}


def test_long_work_is_cut_and_keeps_its_order_and_its_people_together() -> None:
    built = build(facts(replace(SAND, labour_h=20.0)))
    steps = built.project.steps
    assert [step.id for step in steps] == [f"sand#{i}" for i in range(1, 6)]
    assert [step.work for step in steps] == [16] * 5
    assert {step.group for step in steps} == {"sand"}
    assert [(one.before, one.after) for one in built.project.links] == [
        (f"sand#{i}", f"sand#{i + 1}") for i in range(1, 5)
    ]


@pytest.mark.parametrize(
    ("work", "cuttable", "pieces"),
    [
        (24, True, (24,)),
        (25, True, (13, 12)),
        (36, False, (36,)),
        (37, False, (19, 18)),
        (0, True, (0,)),
        (100, True, (17, 17, 17, 17, 16, 16)),
    ],
)  # fmt: skip
def test_work_is_cut_when_it_does_not_fit_and_evenly(
    work: int, cuttable: bool, pieces: tuple[int, ...]
) -> None:
    assert pieces_of(work, cuttable, 36) == pieces


def test_two_coats_that_are_cut_alike_follow_one_another_piece_by_piece() -> None:
    long, after = (replace(one, labour_h=16.0) for one in (COAT, NEXT))
    built = build(facts(long, after, links=(WET,)))
    links = {(one.before, one.after): one for one in built.project.links}
    assert set(links) == {
        ("coat#1", "coat#2"),
        ("next#1", "next#2"),
        ("coat#1", "next#1"),
        ("coat#2", "next#2"),
    }
    apart = build(facts(long, NEXT, links=(WET,)))
    assert {(one.before, one.after) for one in apart.project.links} == {
        ("coat#1", "coat#2"),
        ("coat#1", "next"),
        ("coat#2", "next"),
    }


def test_a_step_that_does_not_ask_for_the_cure_waits_until_the_coat_no_longer_cures() -> None:
    inspect = RefitStep("inspect", "job", "inspect", labour_h=1.0)
    built = build(facts(COAT, inspect, links=(RefitLink("inspect", "coat"),)))
    window = built.project.windows[link_of(built, "coat", "inspect").window_id or ""]
    whole = Coat("a", PRIMER, NOW_AT, NOW_AT + timedelta(hours=3))
    clocks = {one.stage: one for one in coat_clock(whole, facts().track, NOW_AT)}
    immersed: Stage = "immerse_opens"
    assert window.ready[12] == built.clock.up(clocks[immersed].governing_at)  # type: ignore[arg-type]
    assert window.last is None
    both = build(facts(COAT, inspect, NEXT, links=(RefitLink("inspect", "coat"), WET)))
    window = both.project.windows[link_of(both, "coat", "inspect").window_id or ""]
    assert window.ready[12] == both.clock.up(clocks["recoat_opens"].governing_at)  # type: ignore[arg-type]


def test_steps_in_a_circle_are_named() -> None:
    round_ = (RefitLink("coat", "sand"), RefitLink("sand", "coat"))
    with pytest.raises(CircleError) as caught:
        build(facts(SAND, COAT, links=round_))
    assert set(caught.value.step_ids) == {"sand", "coat"}
    assert caught.value.field == "links"


def test_the_grid_reaches_past_the_launch_and_past_a_month_away() -> None:
    away = replace(ANA, away=(DaysOff(date(2026, 6, 1), date(2026, 7, 20)),))
    paint = replace(COAT, skills=frozenset({"paint"}))
    built = build(facts(paint, members=(away, BEN)))
    assert built.project.grid.slots > 50 * 96
    assert simple_plan(built.project).placed[0].start == 50 * 96
    late = build(facts(COAT, launch_at=NOW_AT + timedelta(days=90)))
    assert late.project.grid.slots > 90 * 96


def test_the_grid_reaches_past_twice_the_work_of_the_busiest() -> None:
    many = tuple(replace(SAND, id=f"sand{i}", labour_h=8.0, zone_id=None) for i in range(40))
    paint = replace(many[0], skills=frozenset({"paint"}))
    shared, alone = (
        build(facts(*steps)) for steps in (many, [replace(paint, id=one.id) for one in many])
    )
    assert shared.project.grid.slots > 40 * 96  # 320 hours twice, nine hours a day, two people
    assert alone.project.grid.slots > 75 * 96


def test_people_who_are_there_together_for_a_few_hours_only_get_pieces_of_so_much() -> None:
    late = replace(BEN, day_starts=time(13), day_ends=time(20))
    both = replace(COAT, crew_size=2, labour_h=12.0)
    built = build(facts(both, members=(ANA, late)))
    assert [step.work for step in built.project.steps] == [
        12,
        12,
    ]  # from one to five in the afternoon
    assert len(simple_plan(built.project).placed) == 2


def test_a_plan_tells_the_first_of_two_windows_that_close_and_the_last_that_opens() -> None:
    under = (COAT, replace(COAT, id="other", labour_h=1.0))
    links = (WET, RefitLink("next", "other", by_cure=True))
    built = build(facts(*under, NEXT, links=links))
    placed = simple_plan(built.project).placed
    *_, next_ = planned_steps(built, placed)
    ends = {one.step_id: one.end for one in placed}
    closes, opens = [], []
    for id_ in ("coat", "other"):
        window = built.project.windows[link_of(built, id_, "next").window_id or ""]
        assert window.last is not None
        closes.append(int(window.last[ends[id_]]))
        opens.append(int(window.ready[ends[id_]]))
    assert len(set(closes)) == 2
    assert next_.closes_at == built.clock.at(min(closes))
    assert next_.opens_at == built.clock.at(max(opens))


def test_a_plan_is_told_in_instants_with_the_cure_and_the_window_of_each_step() -> None:
    built = build(
        facts(replace(SAND, labour_h=8.0), COAT, NEXT, links=(RefitLink("coat", "sand"), WET))
    )
    sand, coat, next_ = planned_steps(built, simple_plan(built.project).placed)
    assert (sand.start_at, len(sand.pieces)) == (NOW_AT, 2)
    assert sand.end_at == max(piece.end_at for piece in sand.pieces)
    window = built.project.windows[link_of(built, "coat", "next").window_id or ""]
    end = built.clock.up(coat.end_at)
    assert coat.cure_until_at == next_.opens_at == built.clock.at(int(window.ready[end]))
    assert window.last is not None
    assert next_.closes_at == built.clock.at(int(window.last[end]))
    assert next_.start_at >= coat.cure_until_at
    assert not next_.missed
    assert (coat.opens_at, sand.cure_until_at, next_.cure_until_at) == (None, None, None)


def test_a_profile_that_does_not_say_when_it_can_be_sanded_says_so() -> None:
    stages = {key: points for key, points in PRIMER.stages.items() if key != "sandable"}
    coat = replace(COAT, profile=replace(PRIMER, stages=stages))
    built = build(facts(coat, SAND, links=(RefitLink("sand", "coat", by_cure=True),)))
    assert Note("coat", "stage_unknown") in built.notes
    full = build(facts(COAT, SAND, links=(RefitLink("sand", "coat", by_cure=True),)))
    assert Note("coat", "stage_unknown") not in full.notes


def test_the_last_start_is_before_the_instant_at_which_phones_say_that_it_is_missed() -> None:
    link = RefitLink("coat", "sand", max_gap_s=4 * 3600.0)
    built = build(facts(SAND, COAT, links=(link,)))
    assert link_of(built, "sand", "coat").max_gap == 15
    at_once = build(facts(SAND, COAT, links=(replace(link, max_gap_s=0.0),)))
    assert link_of(at_once, "sand", "coat").max_gap == 0
    between = build(facts(SAND, COAT, links=(replace(link, max_gap_s=4 * 3600.0 + 1.0),)))
    assert link_of(between, "sand", "coat").max_gap == 16
    clock = built.clock
    assert clock.before(NOW_AT + timedelta(hours=1)) == 3
    assert clock.before(NOW_AT + timedelta(hours=1, seconds=1)) == 4


def test_the_grid_reaches_far_enough_for_people_who_seldom_meet() -> None:
    early = replace(ANA, work_days=frozenset({1, 2, 3, 4}))
    late = replace(BEN, work_days=frozenset({1, 5, 6, 7}))
    many = [replace(SAND, id=f"sand{i}", crew_size=2, labour_h=12.0) for i in range(8)]
    built = build(facts(*many, members=(early, late)))
    assert built.project.grid.slots > 2 * 48 / 9 * 7 * 96  # 48 hours, nine of them each Monday
