from datetime import timedelta
from itertools import pairwise
from math import cos, exp, pi

import numpy as np
import pytest
from scipy.integrate import quad
from structuralcodes.codes import mc2010

from tackwatch.trade.arrhenius import law_of, stage_time
from tackwatch.trade.dose import DoseLine, reach
from tackwatch.trade.temperature import steady_track, track_of
from tackwatch.trade.types import Band, Knot, Reading, Track
from tests.trade.samples import CURVE, START_AT, START_S, hours, outside, points

SHEET = points((10, 480), (20, 240), (30, 120))


def ec2_points(age_d):
    """Give the points of a stage that takes an equivalent age, by the law of EN 1992-1-1 B.10."""
    return points(*((t, age_d * 1440 * exp(4000 / (273 + t) - 13.65)) for t in range(-5, 46)))


def swinging_readings(days, every_s=1800.0, swing_k=8.0, mean_c=18.0):
    n = int(days * 86400 / every_s)
    return [
        Reading(
            START_AT + timedelta(seconds=i * every_s),
            surface_c=mean_c + swing_k * cos(2 * pi * i * every_s / 86400),
        )
        for i in range(n + 1)
    ]


def test_at_a_steady_temperature_the_stage_takes_its_own_time():
    for temp_c in (4.0, 10.0, 17.0, 30.0, 41.0):
        answer = reach(SHEET, steady_track(temp_c, START_AT), START_S)
        assert answer.at_s - START_S == pytest.approx(stage_time(SHEET, temp_c).seconds, abs=0.01)
        assert answer.basis == stage_time(SHEET, temp_c).basis


def test_three_days_at_ten_twenty_and_thirty_structuralcodes_0_7_2_mc2010_t_t():
    check = outside()["clock.ec2.3days"]
    knots, at_s = [], START_S
    for temp_c, days in zip(check["inputs"]["T_C"], check["inputs"]["dt_d"], strict=True):
        knots += [Knot(at_s + 1e-3, temp_c, True), Knot(at_s + days * 86400, temp_c, True)]
        at_s += days * 86400
    track = Track(tuple(knots), len(knots) - 2, at_s)
    answer = reach(ec2_points(check["expected"]["t_T_d"]), track, START_S)
    assert answer.at_s - START_S == pytest.approx(3 * 86400, abs=0.2)


class NurseSaul:
    """A stage that takes a temperature-time factor: its rate is straight in the temperature."""

    temps_c = ()

    def __init__(self, datum_c, factor_c_days):
        self.datum_c, self.factor_c_s = datum_c, factor_c_days * 86400

    def rate(self, temp_c):
        return (temp_c - self.datum_c) / self.factor_c_s

    def beyond(self, _):
        return False

    def basis(self, _):
        return "data_sheet"


@pytest.mark.parametrize("swing_k", [0.0, 8.0])
def test_28_days_about_15_degc_have_the_factor_of_the_worked_example_by_nurse_and_saul(swing_k):
    check = outside()["clock.nurse"]
    given, days = check["inputs"], check["inputs"]["days"]
    law = NurseSaul(given["T0_C"], check["expected"]["C_days"])
    readings = swinging_readings(days, swing_k=swing_k, mean_c=given["T_C"])
    line = DoseLine(law, track_of(readings, CURVE, START_AT), START_S, 0.0, Band())
    answer = line.reached(START_S)
    assert answer.at_s - START_S == pytest.approx(days * 86400, abs=0.01)


def test_a_swinging_week_agrees_with_structuralcodes_0_7_2_mc2010_t_t():
    readings = swinging_readings(7)
    minute_d = 1 / 1440
    n = 6 * 1440
    mids_s = (np.arange(n) + 0.5) * 60
    temps = np.interp(mids_s, np.arange(len(readings)) * 1800, [r.surface_c for r in readings])
    age_d = mc2010.t_T(temps, np.full(n, minute_d))
    answer = reach(ec2_points(age_d), track_of(readings, CURVE, START_AT), START_S)
    assert answer.at_s - START_S == pytest.approx(6 * 86400, abs=2.0)


def test_the_sum_is_right_to_the_second_over_a_fortnight_by_scipy_quad():
    readings = swinging_readings(14, every_s=3600.0, swing_k=9.0)
    law = law_of(SHEET)
    dose = 0.0
    for left, right in pairwise(readings):
        span_s = (right.at - left.at).total_seconds()
        rise_k = right.surface_c - left.surface_c

        def rate(x_s, left=left, span_s=span_s, rise_k=rise_k):
            return law.rate(left.surface_c + rise_k * x_s / span_s)

        dose += quad(rate, 0, span_s, epsabs=1e-12, epsrel=1e-10, limit=200)[0]
    slow = points(*((p.temp_c, p.minutes * dose) for p in SHEET))
    answer = reach(slow, track_of(readings, CURVE, START_AT), START_S)
    assert answer.at_s - START_S == pytest.approx(14 * 86400, abs=0.5)


def test_a_steep_rise_is_summed_as_well_as_a_gentle_one_by_scipy_quad():
    law = law_of(SHEET)
    knots = [Knot(START_S, 8.0, True), Knot(START_S + 10800, 44.0, True)]
    track = Track((*knots, Knot(START_S + 97200, 44.0, True)), 1, START_S)
    dose = quad(lambda x_s: law.rate(8.0 + 36.0 * x_s / 10800), 0, 9000, points=[900, 3600, 6600])[
        0
    ]
    slow = points(*((p.temp_c, p.minutes * dose) for p in SHEET))
    assert reach(slow, track, START_S).at_s - START_S == pytest.approx(9000, abs=0.05)


@pytest.mark.parametrize("later_h", [0.0, 3.3, 26.0, 40.0, 24 * 9 + 7.0])
def test_one_line_answers_for_paint_laid_at_any_instant_of_a_long_coat(later_h):
    track = track_of([Reading(START_AT, surface_c=20.0)], CURVE, START_AT)
    line = DoseLine(law_of(SHEET), track, START_S, -1.0, Band())
    start_s = START_S + later_h * 3600
    alone = reach(SHEET, track, start_s, -1.0)
    assert line.reached(start_s).at_s == pytest.approx(alone.at_s, abs=0.01)


def test_repeating_a_day_equals_laying_two_hundred_days_out():
    short = track_of([Reading(START_AT, surface_c=25.0)], CURVE, START_AT)
    day = short.knots[short.repeats_from :]
    knots = list(short.knots)
    for n in range(1, 210):
        knots += [Knot(k.at_s + n * 86400, k.temp_c, False) for k in day[1:]]
    long = Track(tuple(knots), len(knots) - len(day), short.last_reading_at_s)
    slow = points((10, 300 * 1440), (20, 150 * 1440), (30, 75 * 1440))
    for edge in (-1.0, 0.0, 1.0):
        one, other = reach(slow, short, START_S, edge), reach(slow, long, START_S, edge)
        assert (one.at_s - START_S) / 86400 > 100
        assert one.at_s == pytest.approx(other.at_s, abs=0.05)
        assert one.basis == other.basis


@pytest.mark.parametrize("later_h", [-30, 0.25, 5, 26, 27, 40, 24 * 9 + 7])
def test_a_stage_may_begin_anywhere_on_the_track(later_h):
    track = track_of([Reading(START_AT, surface_c=20.0)], CURVE, START_AT)
    start_s = START_S + later_h * 3600
    answer = reach(SHEET, track, start_s)
    law = law_of(SHEET)

    def temp_c(at_s):
        knots, period_s = track.knots, 86400.0
        while at_s > knots[-1].at_s:
            at_s -= period_s
        return float(np.interp(at_s, [k.at_s for k in knots], [k.temp_c for k in knots]))

    grid_s = np.linspace(start_s, answer.at_s, 20001)
    rates = [law.rate(temp_c(at_s)) for at_s in grid_s]
    assert np.trapezoid(rates, grid_s) == pytest.approx(1.0, abs=2e-5)


def test_the_edge_moves_measured_and_forecast_pieces_by_their_own_band():
    readings = [Reading(START_AT + hours(h), surface_c=20.0) for h in range(3)]
    flat = track_of(readings, CURVE, START_AT)
    band = Band(measured_k=0.0, forecast_k=4.0)
    short = points((10, 120), (20, 60), (30, 30))
    assert reach(short, flat, START_S, 1.0, band) == reach(short, flat, START_S, -1.0, band)
    fast, slow = reach(SHEET, flat, START_S, 1.0, band), reach(SHEET, flat, START_S, -1.0, band)
    assert fast.at_s < reach(SHEET, flat, START_S).at_s < slow.at_s


def test_the_basis_is_the_poorest_met_on_the_way():
    knots = [Knot(START_S, 20.0, True), Knot(START_S + 3600, 35.0, True)]
    knots += [Knot(START_S + 7200, 20.0, True), Knot(START_S + 93600, 20.0, True)]
    track = Track(tuple(knots), 2, START_S + 7200)
    assert reach(points((10, 60), (30, 15)), track, START_S).basis == "data_sheet"
    assert reach(SHEET, track, START_S).basis == "beyond"
    assert reach(SHEET, track, START_S + 7200).basis == "data_sheet"
    assert reach(points((20, 240)), track, START_S).basis == "rule_of_thumb"


def test_past_the_horizon_there_is_no_answer():
    track = steady_track(20.0, START_AT)
    assert reach(SHEET, track, START_S, horizon_s=4 * 3600 - 1) is None
    assert reach(SHEET, track, START_S, horizon_s=4 * 3600 + 1) is not None
    assert reach(SHEET, steady_track(-120.0, START_AT), START_S) is None
    slow = points((20, 30 * 1440.0))
    assert reach(slow, track, START_S, horizon_s=29.9 * 86400) is None
    assert reach(slow, track, START_S, horizon_s=30.1 * 86400) is not None
