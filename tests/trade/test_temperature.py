import itertools
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random

import pytest

from tackwatch.trade.errors import TradeError
from tackwatch.trade.temperature import (
    at_least,
    fitted_curve,
    measured_points,
    steady_track,
    track_of,
)
from tackwatch.trade.types import Reading
from tests.trade.samples import CURVE, START_AT, START_S, hourly, hours


def temp_at(track, at_s):
    """Read a track by straight lines, repeating its last part."""
    knots = track.knots
    period_s = knots[-1].at_s - knots[track.repeats_from].at_s
    while at_s > knots[-1].at_s:
        at_s -= period_s
    for left, right in itertools.pairwise(knots):
        if left.at_s <= at_s <= right.at_s:
            share = (at_s - left.at_s) / (right.at_s - left.at_s)
            return left.temp_c + share * (right.temp_c - left.temp_c)
    raise AssertionError("before the track")


def curve_c(at):
    return fitted_curve(CURVE, []).temp_c(at.timestamp())


def test_without_readings_the_daily_curve_runs_alone_and_repeats():
    track = track_of([], CURVE, START_AT)
    assert track.last_reading_at_s is None
    for hour, expected in ((3, 20.0), (15, 10.0), (27, 20.0), (24 * 100 + 3, 20.0)):
        assert temp_at(track, START_S + hour * 3600) == pytest.approx(expected, abs=0.05)
    assert not any(knot.measured for knot in track.knots)


def test_the_curve_is_warmest_at_its_local_hour():
    east = replace(CURVE, utc_offset_s=7200.0)
    warmest = max(track_of([], east, START_AT).knots, key=lambda knot: knot.temp_c)
    assert (warmest.at_s - START_S) / 3600 == pytest.approx(1.0)  # 13 UTC is 15 local


def test_readings_close_together_are_joined_and_count_as_measured():
    track = track_of(hourly(10.0, 16.0, 12.0), CURVE, START_AT)
    assert temp_at(track, START_S + 1800) == pytest.approx(13.0)
    assert temp_at(track, START_S + 5400) == pytest.approx(14.0)
    assert [knot.measured for knot in track.knots[:4]] == [False, True, True, False]
    assert track.last_reading_at_s == START_S + 7200


def test_the_surface_is_preferred_to_the_air_and_a_reading_without_either_is_passed_over():
    readings = [
        Reading(START_AT, air_c=30.0, surface_c=18.0),
        Reading(START_AT + hours(1), air_c=12.0),
        Reading(START_AT + hours(2), rh_pct=60.0),
    ]
    assert measured_points(readings) == [(START_S, 18.0), (START_S + 3600, 12.0)]


def test_order_does_not_matter_and_one_instant_counts_once_as_its_mean():
    readings = [*hourly(10.0, 16.0, 12.0, 14.0), Reading(START_AT + hours(1), surface_c=17.0)]
    shuffled = list(readings)
    Random(7).shuffle(shuffled)
    assert track_of(shuffled, CURVE, START_AT) == track_of(readings, CURVE, START_AT)
    assert measured_points(readings)[1] == (START_S + 3600, 16.5)


def test_a_long_gap_is_not_a_warm_night():
    evening, morning = START_AT + hours(5), START_AT + hours(22)
    readings = [Reading(evening, surface_c=18.0), Reading(morning, surface_c=18.0)]
    track = track_of(readings, CURVE, evening)
    night_s = (START_AT + hours(15)).timestamp()
    assert temp_at(track, night_s) < 13.0
    assert temp_at(track, morning.timestamp()) == pytest.approx(18.0)
    assert not any(knot.measured for knot in track.knots)


def test_after_the_last_reading_the_difference_fades_out_over_three_hours():
    readings = hourly(24.0)
    track = track_of(readings, CURVE, START_AT)
    fitted = fitted_curve(CURVE, measured_points(readings))
    differences = [
        temp_at(track, START_S + h * 3600) - fitted.temp_c(START_S + h * 3600)
        for h in (0, 1.5, 3, 5)
    ]
    first_k = 24.0 - fitted.temp_c(START_S)
    assert differences == pytest.approx([first_k, first_k / 2, 0.0, 0.0], abs=0.02)


def test_before_the_first_reading_it_is_held_for_three_hours_and_then_fades_to_the_curve():
    readings = [Reading(START_AT + hours(12), surface_c=30.0)]
    track = track_of(readings, CURVE, START_AT)
    fitted = fitted_curve(CURVE, measured_points(readings))
    assert temp_at(track, START_S + 9 * 3600) == pytest.approx(30.0)
    assert temp_at(track, START_S + 11 * 3600) == pytest.approx(30.0)
    assert temp_at(track, START_S + 2 * 3600) == pytest.approx(
        fitted.temp_c(START_S + 2 * 3600), abs=0.05
    )
    assert not track.knots[1].measured


def test_one_reading_moves_the_curve_a_little_and_three_days_of_them_all_the_way():
    base_c = (CURVE.min_c + CURVE.max_c) / 2
    one = fitted_curve(CURVE, [(START_S, curve_c(START_AT) + 6.0)])
    many = fitted_curve(
        CURVE,
        [
            (START_S + h * 3600, fitted_curve(CURVE, []).temp_c(START_S + h * 3600) + 6.0)
            for h in range(72)
        ],
    )
    assert 0.0 < one.mean_c - base_c < 3.5
    assert many.mean_c - base_c == pytest.approx(6.0, abs=0.2)
    assert many.swing_k == pytest.approx(5.0, abs=0.2)


def test_only_the_last_three_days_of_readings_shape_the_forecast():
    old = [(START_S - 96 * 3600, 40.0)]
    late = [(START_S, 15.0)]
    assert fitted_curve(CURVE, old + late).mean_c == fitted_curve(CURVE, late).mean_c


def test_the_fitted_day_is_never_turned_upside_down():
    upside = [(START_S + h * 3600, 30.0 - 10.0 * (h in (2, 3, 4))) for h in range(24)]
    assert fitted_curve(CURVE, upside).swing_k >= 0.0


def test_readings_before_the_start_still_count():
    readings = hourly(10.0, 14.0, 18.0)
    track = track_of(readings, CURVE, START_AT + timedelta(minutes=90))
    assert track.knots[0].temp_c == pytest.approx(16.0)
    assert track.knots[0].at_s == START_S + 5400
    late = track_of(readings, CURVE, START_AT + hours(30))
    assert late.knots[0].at_s == START_S + 30 * 3600
    assert late.last_reading_at_s == START_S + 7200


def test_a_track_always_runs_forward():
    readings = [*hourly(10.0, 12.0), Reading(START_AT + timedelta(milliseconds=1), air_c=3.0)]
    knots = track_of(readings, CURVE, START_AT - timedelta(minutes=1)).knots
    assert all(left.at_s < right.at_s for left, right in itertools.pairwise(knots))


def test_a_floor_raises_only_what_lies_below_it():
    track = at_least(track_of(hourly(10.0, 20.0, 10.0), CURVE, START_AT), 15.0)
    assert temp_at(track, START_S) == 15.0
    assert temp_at(track, START_S + 3600) == 20.0
    assert temp_at(track, START_S + 1800) == pytest.approx(15.0)
    assert temp_at(track, START_S + 2700) == pytest.approx(17.5)
    assert min(knot.temp_c for knot in track.knots) == 15.0
    assert temp_at(track, START_S + 86400 * 30 + 3 * 3600) == pytest.approx(
        temp_at(track, START_S + 86400 * 31 + 3 * 3600)
    )


def test_an_instant_without_a_zone_names_no_moment():
    naive = datetime(2026, 4, 10, 12)  # noqa: DTZ001
    with pytest.raises(TradeError) as caught:
        track_of([Reading(naive, air_c=10.0)], CURVE, START_AT)
    assert caught.value.field == "readings.at"
    with pytest.raises(TradeError) as caught:
        steady_track(20.0, naive)
    assert caught.value.field == "start_at"
