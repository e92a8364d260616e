"""A missed window as steps, a post-cure as a timetable, and when a boat may float."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.trade.compatibility import goes_over
from tackwatch.trade.compatibility_table import MATERIALS
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.errors import ProfileError, TradeError
from tackwatch.trade.immersion import ImmersionCoat, coats_of, immersion
from tackwatch.trade.job_order import JobStep, check_order, steps_of
from tackwatch.trade.missed_window import missed_window
from tackwatch.trade.post_cure import post_cure_plan
from tackwatch.trade.profiles import parse_profile, profile_as_dict
from tackwatch.trade.temperature import steady_track
from tackwatch.trade.types import Coat, PostCure, Soak
from tests.trade.samples import START_AT, hours, outside, profiles


def test_a_missed_window_of_resin_is_washed_sanded_and_wiped_with_its_labour():
    missed = missed_window("epoxy_resin", area_m2=6.0, sand_minutes_per_m2=12.0)
    assert [(one.kind, one.title_key) for one in missed.steps] == [
        ("clean", "mend.clean"),
        ("sand", "mend.sand"),
        ("clean", "mend.clean"),
    ]
    assert [one.labour_h for one in missed.steps] == pytest.approx([0.2, 1.2, 0.2])
    assert missed.labour_h == pytest.approx(1.6)


def test_a_missed_window_of_epoxy_paint_may_take_a_tack_coat_by_mil_hdbk_1110_2_3_4():
    assert outside()["clock.recoat.epoxy"]["expected"]["else_mist_mil"] == 2
    missed = missed_window("epoxy_paint", 10.0, 8.0)
    assert [one.kind for one in missed.steps] == ["sand", "clean"]
    assert [(one.kind, one.material) for one in missed.or_else] == [("coat", "epoxy_paint")]


MIL_UM = 25.4


def test_a_tack_coat_says_its_film_and_its_wait_by_tb_43_0144_and_mil_hdbk_1110_2_3_4():
    army, handbook = (
        outside()[one]["expected"] for one in ("clock.recoat.7d", "clock.recoat.epoxy")
    )
    tack = missed_window("epoxy_paint").or_else[0].tack
    assert [tack.wet_film_min_um, tack.wet_film_max_um] == pytest.approx(
        [mil * MIL_UM for mil in army["tack_mil"]], rel=0.02
    )
    assert tack.wait_h == army["tack_wait_h"] == handbook["mist_wait_h"]
    assert tack.wet_film_max_um <= handbook["else_mist_mil"] * MIL_UM


@pytest.mark.parametrize("over", ["antifouling_soft", "antifouling_hard"])
def test_antifouling_waits_four_hours_on_its_tack_coat_by_navfac_mo_124(over):
    said = outside()["clock.antifoul.tacky"]["expected"]["otherwise"]
    first = steps_of(goes_over(over, "epoxy_paint", "green").mends, "epoxy_paint")
    assert f"{first[0].tack.wait_h:g} h" in said
    assert all(one.tack is None for one in missed_window("epoxy_paint").steps)


def test_the_bundled_epoxy_closes_after_at_most_seven_days_by_tb_43_0144():
    most_days = outside()["clock.recoat.7d"]["expected"]["max_days_without_tack"]
    window = profiles()["epoxy_barrier_primer"].stages["recoat_closes"]
    at_20_c = next(point.minutes for point in window if point.temp_c == 20.0)
    assert at_20_c <= most_days * 1440


def test_labour_that_nobody_knows_is_not_taken_for_none():
    assert missed_window("polyurethane", 10.0).labour_h is None
    assert missed_window("polyurethane", None, 8.0).labour_h is None
    assert missed_window("polyurethane", 0.0, 8.0).labour_h == 0.0
    for bad in ({"area_m2": -1.0}, {"sand_minutes_per_m2": -1.0}, {"clean_minutes_per_m2": -1.0}):
        with pytest.raises(TradeError) as caught:
            missed_window("polyurethane", **bad)
        assert caught.value.field == next(iter(bad))


@pytest.mark.parametrize("material", MATERIALS)
def test_after_what_a_missed_window_asks_for_the_next_coat_may_go_on(material):
    missed = missed_window(material, 1.0, 10.0)
    steps = [JobStep(str(i), one.kind, one.material) for i, one in enumerate(missed.steps)]
    coats = [JobStep("first", "coat", material), *steps, JobStep("next", "coat", material)]
    assert [one for one in check_order(coats) if one.reasons[0].code != "unknown_below"] == []


def test_a_post_cure_warms_holds_and_cools_at_the_rate_of_the_sheet():
    plan = post_cure_plan(PostCure(10.0, (Soak(40.0, 120.0), Soak(60.0, 480.0))), START_AT, 20.0)
    told = [(leg.kind, (leg.to_at - leg.from_at) / hours(1), leg.to_c) for leg in plan.legs]
    assert told == [
        ("warm", 2.0, 40.0),
        ("hold", 2.0, 40.0),
        ("warm", 2.0, 60.0),
        ("hold", 8.0, 60.0),
        ("cool", 4.0, 20.0),
    ]
    assert plan.ends_at == START_AT + hours(18)
    assert (plan.held_minutes, plan.hottest_c) == (600.0, 60.0)


@given(st.floats(1.0, 60.0), st.floats(-5.0, 35.0), st.floats(40.0, 90.0), st.floats(1.0, 2000.0))
def test_a_slower_rate_never_ends_earlier_and_legs_follow_one_another(
    ramp, start_c, temp_c, minutes
):
    plan = post_cure_plan(PostCure(ramp, (Soak(temp_c, minutes),)), START_AT, start_c)
    slow = post_cure_plan(PostCure(ramp / 2, (Soak(temp_c, minutes),)), START_AT, start_c)
    assert slow.ends_at > plan.ends_at
    for one, other in zip(plan.legs, plan.legs[1:], strict=False):
        assert one.to_at == other.from_at
        assert one.to_c == other.from_c
    assert plan.legs[-1].to_c == start_c


def test_a_profile_carries_its_post_cure_and_older_ones_go_without():
    profile = profiles()["laminating_epoxy_fast"]
    assert profile.post_cure is not None
    data = profile_as_dict(profile)
    assert parse_profile(data) == profile
    del data["post_cure"], data["compatibility"]
    assert parse_profile(data).post_cure is None
    assert "post_cure" not in profile_as_dict(parse_profile(data))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"compatibility": "mud"}, "compatibility"),
        (
            {"post_cure": {"ramp_k_h": 0, "soaks": [{"temp_c": 40, "minutes": 60}]}},
            "post_cure.ramp_k_h",
        ),
        ({"post_cure": {"ramp_k_h": 10, "soaks": []}}, "post_cure.soaks"),
        (
            {"post_cure": {"ramp_k_h": 10, "soaks": [{"temp_c": 40, "minutes": 0}]}},
            "post_cure.soaks[0].minutes",
        ),
        (
            {"post_cure": {"ramp_k_h": 10, "soaks": [{"temp_c": 400, "minutes": 9}]}},
            "post_cure.soaks[0].temp_c",
        ),
        ({"post_cure": {"ramp": 10, "soaks": []}}, "post_cure.ramp"),
    ],
)
def test_a_post_cure_that_is_none_is_refused_by_its_field(change, field):
    data = {**profile_as_dict(profiles()["laminating_epoxy_fast"]), **change}
    with pytest.raises(ProfileError) as caught:
        parse_profile(data)
    assert caught.value.field == field


def coat(name, opens_h, closes_h=None):
    closes_at = None if closes_h is None else START_AT + hours(closes_h)
    return ImmersionCoat(name, None if opens_h is None else START_AT + hours(opens_h), closes_at)


def test_she_floats_after_the_latest_coat_and_before_the_earliest_is_past():
    coats = [coat("a", 20, 300), coat("b", 30), coat("c", 10, 200)]
    found = immersion(coats, START_AT, START_AT + hours(100))
    assert (found.state, found.opens_by, found.closes_by, found.launch) == (
        "not_yet",
        "b",
        "c",
        "fits",
    )
    assert (found.opens_at, found.closes_at) == (START_AT + hours(30), START_AT + hours(200))
    assert immersion(coats, START_AT + hours(40)).state == "open"
    assert immersion(coats, START_AT + hours(201)).state == "past"
    assert immersion(coats, START_AT, START_AT + hours(29)).launch == "too_early"
    assert immersion(coats, START_AT, START_AT + hours(201)).launch == "too_late"


def test_a_coat_that_nobody_knows_or_that_leaves_no_day_is_named():
    found = immersion([coat("a", None), coat("b", 30)], START_AT, START_AT + hours(40))
    assert (found.state, found.unknown, found.opens_at, found.launch) == (
        "unknown",
        ("a",),
        None,
        "unknown",
    )
    assert immersion([coat("a", 20), coat("b", 5, 10)], START_AT).state == "conflict"
    with pytest.raises(TradeError) as caught:
        immersion([], START_AT)
    assert caught.value.field == "coats"


def test_the_coats_of_the_cure_clock_say_when_she_may_float():
    profile = profiles()["antifouling_hard"]
    track = steady_track(20.0, START_AT)
    clocks = [
        *coat_clock(Coat("done", profile, START_AT, START_AT + hours(2)), track, START_AT),
        *coat_clock(Coat("open", profile, START_AT), track, START_AT),
    ]
    done, still_open = coats_of(clocks)
    assert done.opens_at is not None
    assert done.opens_at > START_AT + hours(2)
    assert done.closes_at is not None
    assert done.closes_at - done.opens_at > timedelta(days=20)
    assert (still_open.source_id, still_open.opens_at) == ("open", None)
