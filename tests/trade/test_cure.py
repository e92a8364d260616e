from datetime import timedelta

import pytest

from tackwatch.trade.arrhenius import stage_time
from tackwatch.trade.cure import clocks_of_group, coat_clock, pot_clock
from tackwatch.trade.edges import path_of
from tackwatch.trade.errors import TradeError
from tackwatch.trade.temperature import steady_track, track_of
from tackwatch.trade.types import Band, Coat, Knot, Pot, Reading, Track
from tests.trade.samples import CURVE, FLAT_20, START_AT, START_S, hours, profile_with, profiles

WINDOW = profile_with(
    recoat_opens=[(10, 480), (20, 240), (30, 120)],
    recoat_closes=[(10, 2880), (20, 1440), (30, 720)],
    sandable=[(10, 1440), (20, 720), (30, 360)],
    immerse_opens=[(10, 2880), (20, 1440), (30, 720)],
    immerse_closes=[(10, 20000), (30, 10000)],
)
NO_BAND = Band(0.0, 0.0)
EXACT = timedelta(milliseconds=2)


def clocks(coat, track, now_at=START_AT, **kwargs):
    return {clock.stage: clock for clock in coat_clock(coat, track, now_at, **kwargs)}


def coat_of(length_h, profile=WINDOW, start_at=START_AT):
    return Coat("c1", profile, start_at, start_at + hours(length_h))


def readings_until(hour, temp_c=20.0):
    return [Reading(START_AT + hours(h), surface_c=temp_c) for h in range(hour + 1)]


def seconds_at(points, temp_c):
    return timedelta(seconds=stage_time(points, temp_c).seconds)


def test_opening_is_told_by_the_slow_edge():
    clock = clocks(coat_of(0), steady_track(20.0, START_AT))["recoat_opens"]
    points = WINDOW.stages["recoat_opens"]
    assert clock.kind == "opens"
    assert clock.governing_at == clock.slow_at
    assert abs(clock.at - START_AT - hours(4)) < EXACT
    assert abs(clock.slow_at - START_AT - seconds_at(points, 19.0)) < EXACT
    assert abs(clock.fast_at - START_AT - seconds_at(points, 21.0)) < EXACT
    assert clock.last_start_at is None


def test_recoat_closes_on_the_fast_edge():
    clock = clocks(coat_of(0), steady_track(20.0, START_AT))["recoat_closes"]
    assert clock.kind == "closes"
    assert clock.governing_at == clock.fast_at == clock.last_start_at
    points = WINDOW.stages["recoat_closes"]
    assert abs(clock.fast_at - START_AT - seconds_at(points, 21.0)) < EXACT


def test_a_forecast_is_less_sure_than_a_measurement():
    measured = clocks(coat_of(0), steady_track(20.0, START_AT))["sandable"]
    forecast = clocks(coat_of(0), steady_track(20.0, START_AT, measured=False))["sandable"]
    assert measured.at == forecast.at
    points = WINDOW.stages["sandable"]
    assert abs(forecast.governing_at - START_AT - seconds_at(points, 17.0)) < EXACT
    assert forecast.governing_at > measured.governing_at


def test_on_a_steady_day_the_next_coat_may_start_when_the_first_paint_opens():
    found = clocks(coat_of(3), steady_track(20.0, START_AT), band=NO_BAND)
    assert abs(found["recoat_opens"].at - START_AT - hours(4)) < EXACT
    assert abs(found["recoat_closes"].last_start_at - START_AT - hours(24)) < EXACT
    assert abs(found["recoat_closes"].at - START_AT - hours(27)) < EXACT


def two_temperatures(first_c, then_c, change_h):
    at_s = START_S + change_h * 3600
    knots = (
        Knot(START_S, first_c, True),
        Knot(at_s, first_c, True),
        Knot(at_s + 1e-3, then_c, True),
        Knot(at_s + 86400, then_c, True),
    )
    return Track(knots, 2, at_s)


def test_on_a_cooling_day_the_last_paint_holds_the_next_coat_back():
    found = clocks(coat_of(2), two_temperatures(30.0, 10.0, 2), band=NO_BAND)
    # first paint: 2 h at 30 are its whole 2 h; last paint: 8 h at 10 from 14:00, 2 h into the path
    assert abs(found["recoat_opens"].at - START_AT - hours(8)) < timedelta(seconds=1)


def test_on_a_warming_day_the_last_paint_calls_the_next_coat_sooner():
    found = clocks(coat_of(2), two_temperatures(10.0, 30.0, 2), band=NO_BAND)
    first_h = 2 + (1 - 2 / 48) * 12
    last_h = 2 + 12
    assert abs(found["recoat_closes"].at - START_AT - hours(last_h)) < timedelta(seconds=1)
    expected = START_AT + hours(min(first_h, last_h - 2))
    assert abs(found["recoat_closes"].last_start_at - expected) < timedelta(seconds=1)
    assert found["recoat_closes"].last_start_at < START_AT + hours(first_h)


def test_paint_in_the_middle_of_the_path_may_be_the_slowest():
    def at(h, temp_c):
        return Knot(START_S + h * 3600, temp_c, True)

    knots = (at(0, 30), at(2.2, 30), at(2.201, 5), at(6.2, 5), at(6.201, 20), at(31, 20))
    track = Track(knots, 4, START_S)
    whole = clocks(coat_of(6), track, band=NO_BAND)["recoat_opens"].at
    # paint laid at 2.2 h sees the four cold hours from their beginning; the ends see less of them
    points = WINDOW.stages["recoat_opens"]
    done = 4 * 3600 / stage_time(points, 5.0).seconds
    expected = START_AT + hours(4 + (1 - done) * 4)
    assert whole == pytest.approx(expected, abs=timedelta(seconds=60))
    ends = [clocks(coat_of(0, start_at=START_AT + hours(h)), track, band=NO_BAND) for h in (0, 6)]
    opens = [found["recoat_opens"].at for found in ends]
    assert whole > max(opens[0], opens[1] - hours(6)) + hours(1)


def test_a_path_is_looked_at_each_half_hour_and_a_very_long_one_in_24_parts():
    assert path_of(START_S, START_S) == (START_S,)
    short = path_of(START_S, START_S + 7200)
    assert short == tuple(START_S + i * 1800 for i in range(5))
    odd = path_of(START_S, START_S + 2000)
    assert odd == (START_S, START_S + 1000, START_S + 2000)
    assert len(path_of(START_S, START_S + 40 * 3600)) == 25


def test_sanding_and_launching_wait_for_the_last_paint():
    found = clocks(coat_of(3), steady_track(20.0, START_AT), band=NO_BAND)
    assert abs(found["sandable"].at - START_AT - hours(15)) < EXACT
    assert abs(found["immerse_opens"].at - START_AT - hours(27)) < EXACT


def test_the_latest_immersion_is_that_of_the_first_paint():
    track = steady_track(20.0, START_AT)
    long, short = clocks(coat_of(3), track), clocks(coat_of(0), track)
    assert long["immerse_closes"].governing_at == short["immerse_closes"].governing_at
    assert long["immerse_closes"].last_start_at == long["immerse_closes"].governing_at


def test_a_coat_without_an_end_counts_from_its_start_and_says_so():
    open_coat = Coat("c1", WINDOW, START_AT)
    found = clocks(open_coat, steady_track(20.0, START_AT), START_AT + hours(2))
    closed = clocks(coat_of(0), steady_track(20.0, START_AT))
    for stage, clock in found.items():
        assert clock.governing_at == closed[stage].governing_at
        assert "coat_not_ended" in clock.reasons
        assert "coat_not_ended" not in closed[stage].reasons


def test_a_coat_cannot_end_before_it_starts():
    with pytest.raises(TradeError) as caught:
        coat_clock(coat_of(-1), steady_track(20.0, START_AT), START_AT)
    assert caught.value.field == "end_at"


def test_one_hot_hour_closes_the_polyurethane_window_early_ufgs_09971_3_7_1_4():
    profile = profiles()["topcoat_two_part_pu"]
    readings = readings_until(60)
    hot = [
        Reading(r.at, surface_c=34.0 if hours(5) <= r.at - START_AT <= hours(7) else 20.0)
        for r in readings
    ]
    cool = clocks(coat_of(0, profile), track_of(readings, FLAT_20, START_AT))["recoat_closes"]
    warm = clocks(coat_of(0, profile), track_of(hot, FLAT_20, START_AT))["recoat_closes"]
    assert abs(warm.governing_at - START_AT - hours(24)) < EXACT
    assert cool.governing_at - START_AT > hours(40)
    assert "hottest_hour" in warm.reasons


def test_an_average_would_have_hidden_the_hot_hour_ufgs_09971_3_7_1_4():
    profile = profiles()["topcoat_two_part_pu"]
    bare = profile_with(
        recoat_closes=[(p.temp_c, p.minutes) for p in profile.stages["recoat_closes"]]
    )
    hot = [
        Reading(r.at, surface_c=34.0 if hours(5) <= r.at - START_AT <= hours(7) else 20.0)
        for r in readings_until(60)
    ]
    track = track_of(hot, FLAT_20, START_AT)
    by_dose = clocks(coat_of(0, bare), track)["recoat_closes"].governing_at
    by_table = clocks(coat_of(0, profile), track)["recoat_closes"].governing_at
    assert by_dose - by_table > hours(12)


def test_only_stages_that_the_profile_knows_have_a_clock():
    found = clocks(coat_of(0, profiles()["topcoat_one_part"]), steady_track(20.0, START_AT))
    assert set(found) == {"touch_dry", "recoat_opens", "sandable"}


def test_an_old_reading_makes_a_clock_stale_only_where_it_leans_on_the_forecast():
    track = track_of(readings_until(5), CURVE, START_AT)
    fresh = clocks(coat_of(0), track, START_AT + hours(10))
    late = clocks(coat_of(0), track, START_AT + hours(12))
    assert not fresh["sandable"].stale
    assert late["sandable"].stale
    assert "stale_reading" in late["sandable"].reasons
    assert not late["recoat_opens"].stale
    assert clocks(coat_of(0), track, START_AT + hours(10), stale_after_s=3600.0)["sandable"].stale


def test_without_any_reading_every_clock_is_stale_and_says_why():
    found = clocks(coat_of(0), track_of([], CURVE, START_AT))
    assert all(clock.stale and "no_reading" in clock.reasons for clock in found.values())


def test_the_basis_is_that_of_the_governing_edge():
    profile = profile_with(
        sandable=[(10, 1440), (21, 600)], immerse_closes=[(10, 9000), (21, 3000)]
    )
    found = clocks(coat_of(0, profile), steady_track(20.5, START_AT))
    assert found["sandable"].basis == "data_sheet"
    assert found["immerse_closes"].basis == "beyond"
    assert "beyond" in found["immerse_closes"].reasons
    thumb = clocks(coat_of(0, profile_with(sandable=[(20, 600)])), steady_track(20.0, START_AT))
    assert thumb["sandable"].basis == "rule_of_thumb"


def test_what_lies_past_the_horizon_has_no_instant_and_says_so():
    clock = clocks(coat_of(0), steady_track(-150.0, START_AT))["recoat_opens"]
    assert (clock.at, clock.slow_at, clock.governing_at) == (None, None, None)
    assert "not_within_horizon" in clock.reasons


def pot_clocks(pot, track, now_at=START_AT):
    return {clock.stage: clock for clock in pot_clock(pot, track, now_at)}


def test_a_pot_closes_on_its_fast_edge_at_its_own_temperature_when_that_is_warmer():
    profile = profile_with(pot_life=[(10, 80), (20, 40), (30, 20)])
    cool_air = steady_track(12.0, START_AT)
    warm_pot = pot_clocks(Pot("p1", profile, START_AT, temp_c=25.0), cool_air)["pot_life"]
    points = profile.stages["pot_life"]
    assert abs(warm_pot.governing_at - START_AT - seconds_at(points, 26.0)) < EXACT
    assert warm_pot.reasons == ("pot_temperature",)
    cold_pot = pot_clocks(Pot("p1", profile, START_AT, temp_c=5.0), steady_track(20.0, START_AT))
    assert abs(cold_pot["pot_life"].at - START_AT - hours(2 / 3)) < EXACT
    unknown = pot_clocks(Pot("p1", profile, START_AT), steady_track(20.0, START_AT))["pot_life"]
    assert "air_for_pot" in unknown.reasons


def test_a_pot_bigger_than_the_sheet_s_is_named():
    profile = profiles()["laminating_epoxy_slow"]
    track = steady_track(20.0, START_AT)
    big = pot_clocks(Pot("p1", profile, START_AT, 20.0, mass_kg=0.4), track)
    small = pot_clocks(Pot("p1", profile, START_AT, 20.0, mass_kg=0.1), track)
    assert set(big) == {"pot_life", "gel"}
    assert all("big_pot" in clock.reasons for clock in big.values())
    assert not any("big_pot" in clock.reasons for clock in small.values())


def test_a_coat_in_three_zones_opens_with_the_latest_and_closes_with_the_earliest():
    track = track_of(readings_until(40), CURVE, START_AT)
    members = [
        coat_clock(coat_of(1, start_at=START_AT + hours(h)), track, START_AT) for h in (0, 3, 1)
    ]
    whole = {clock.stage: clock for clock in clocks_of_group("g1", members)}
    assert whole["recoat_opens"].governing_at == by_stage(members[1])["recoat_opens"].governing_at
    first = by_stage(members[0])["recoat_closes"]
    assert whole["recoat_closes"].governing_at == first.governing_at
    assert whole["recoat_closes"].last_start_at == first.last_start_at
    assert whole["recoat_opens"].source_id == "g1"


def test_two_records_of_one_coat_never_shorten_its_cure():
    track = steady_track(20.0, START_AT)
    early, late = coat_of(1), coat_of(1, start_at=START_AT + timedelta(minutes=25))
    one, other = (by_stage(coat_clock(coat, track, START_AT)) for coat in (early, late))
    whole = by_stage(clocks_of_group("g1", [list(other.values()), list(one.values())]))
    assert whole["immerse_opens"].governing_at == other["immerse_opens"].governing_at
    assert whole["immerse_closes"].governing_at == one["immerse_closes"].governing_at


def test_a_member_that_never_opens_keeps_the_whole_shut():
    shut = coat_clock(coat_of(0), steady_track(-150.0, START_AT), START_AT)
    fine = coat_clock(coat_of(0), steady_track(20.0, START_AT), START_AT)
    whole = by_stage(clocks_of_group("g1", [fine, shut]))
    assert whole["recoat_opens"].governing_at is None
    assert whole["recoat_closes"].governing_at == by_stage(fine)["recoat_closes"].governing_at
    assert whole["recoat_opens"].basis == "beyond"
    assert "not_within_horizon" in whole["recoat_opens"].reasons


def by_stage(found):
    return {clock.stage: clock for clock in found}
