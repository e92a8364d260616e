from itertools import pairwise
from math import exp, log

import pytest

from tackwatch.trade.arrhenius import law_of, stage_time
from tackwatch.trade.errors import TradeError
from tests.trade.samples import outside, points

R_J_MOL_K = 8.314462618  # CODATA


def test_the_sheet_s_own_points_come_back():
    sheet = points((10, 80), (20, 40), (30, 20))
    for temp_c, minutes in ((10, 80), (20, 40), (30, 20)):
        answer = stage_time(sheet, temp_c)
        assert answer.seconds == pytest.approx(minutes * 60)
        assert answer.basis == "data_sheet"


def test_between_points_the_logarithm_is_straight_in_one_over_kelvin():
    one, other, middle_c = 1 / 283.15, 1 / 303.15, 18.0
    share = (1 / (middle_c + 273.15) - one) / (other - one)
    expected = exp(log(80) + share * (log(20) - log(80)))
    assert stage_time(points((10, 80), (30, 20)), middle_c).seconds == pytest.approx(expected * 60)


def test_past_the_sheet_the_end_slope_goes_on_and_says_beyond():
    sheet = points((10, 80), (20, 40), (30, 10))
    cold, hot = stage_time(sheet, 5.0), stage_time(sheet, 35.0)
    assert (cold.basis, hot.basis) == ("beyond", "beyond")
    assert cold.seconds == pytest.approx(stage_time(points((10, 80), (20, 40)), 5.0).seconds)
    assert hot.seconds == pytest.approx(stage_time(points((20, 40), (30, 10)), 35.0).seconds)


def test_a_single_point_doubles_each_ten_degrees_ufgs_09971_3_7_1_3():
    check = outside()["clock.q10.ufgs"]
    for temp_c, hours in zip(check["inputs"]["T_C"], check["expected"]["h"], strict=True):
        answer = stage_time(points((21, 240)), temp_c)
        assert answer.seconds / 3600 == pytest.approx(hours, rel=check["tolerance"]["rel"])
        assert answer.basis == "rule_of_thumb"


def test_doubling_means_the_activation_energy_of_arrhenius_with_r_of_codata():
    check = outside()["clock.ea.double"]
    spans, energies = check["inputs"]["T_C"], check["expected"]["kJ_mol"]
    for (low_c, high_c), energy in zip(spans, energies, strict=True):
        ((_, b),) = law_of(points((low_c, 120), (high_c, 60))).lines
        assert b * R_J_MOL_K / 1000 == pytest.approx(energy, abs=check["tolerance"]["abs"])


@pytest.mark.parametrize("check_id", ["clock.ec2.0", "clock.ec2.10", "clock.ec2.30"])
def test_rate_follows_equivalent_age_en_1992_1_1_b10(check_id):
    check = outside()[check_id]
    temp_c = check["inputs"]["T_C"]
    sheet = points(*((t, 1000 / exp(13.65 - 4000 / (273 + t))) for t in (-10, 5, 20, 40)))
    factor = 60000 / stage_time(sheet, temp_c).seconds
    assert factor == pytest.approx(check["expected"]["factor"], abs=check["tolerance"]["abs"])


def test_equal_times_give_a_limit_that_does_not_depend_on_temperature():
    sheet = points((10, 90), (30, 90))
    assert stage_time(sheet, -10.0).seconds == pytest.approx(5400)
    assert stage_time(sheet, 50.0).seconds == pytest.approx(5400)


def test_points_may_come_in_any_order_and_warmer_is_never_slower():
    sheet = points((30, 20), (10, 80), (20, 40))
    times = [stage_time(sheet, t / 2).seconds for t in range(-40, 100)]
    assert all(colder >= warmer for colder, warmer in pairwise(times))


@pytest.mark.parametrize("sheet", [(), points((20, 0)), points((20, 10), (20, 12))])
def test_a_sheet_that_says_nothing_clear_is_refused(sheet):
    with pytest.raises(TradeError) as caught:
        stage_time(sheet, 20.0)
    assert caught.value.field == "points"
