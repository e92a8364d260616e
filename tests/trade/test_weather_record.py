"""The dew point over every usable hour of a measured year."""

import pytest

from tackwatch.trade.air import dew_point_c
from tests.trade.samples import outside, recorded_hours


def test_a_year_of_recorded_dew_points_is_met_within_the_rounding_of_humidity_by_tmy3_723170():
    check = outside()["air.tmy3.723170TYA.CSV.td"]
    expected, within = check["expected"], check["tolerance"]["abs"]
    rows = recorded_hours()
    off = sorted(
        abs(dew_point_c(one.air_c, one.rh_pct) - one.dew_c)
        for one in rows
        for _ in range(one.hours)
    )
    assert len(off) == expected["hours_used"]
    assert off[-1] == pytest.approx(expected["max_abs_K"], abs=within)
    assert off[int(0.99 * len(off))] == pytest.approx(expected["p99_K"], abs=within)
