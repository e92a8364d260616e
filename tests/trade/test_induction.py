"""How long a mix stands before it is used, by temperature, and what is left of its pot life."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.trade.arrhenius import stage_time
from tackwatch.trade.cure import pot_clock
from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.induction import induction_minutes
from tackwatch.trade.sums.registry import calculate
from tackwatch.trade.temperature import steady_track
from tackwatch.trade.types import Band, InductionBand, Mix, Pot
from tests.trade.samples import START_AT, outside, profiles

POLYAMIDE = profiles()["epoxy_polyamide_primer"]
BANDS = POLYAMIDE.mix.induction_by_temp


def celsius(temp_f):
    return (temp_f - 32.0) / 1.8


def test_a_polyamide_epoxy_stands_as_long_as_navfac_mo_124_says():
    check = outside()["clock.induction"]
    bands = zip(check["inputs"]["bands_F"], check["expected"]["h"], strict=True)
    for (from_f, to_f), (least_h, most_h) in bands:
        middle_f = (from_f + (to_f or from_f + 20.0)) / 2.0
        stands_h = induction_minutes(POLYAMIDE.mix, celsius(middle_f)) / 60.0
        assert least_h <= stands_h <= most_h
        assert stands_h == most_h


def test_its_pot_life_is_six_hours_with_induction_by_tb_43_0144_and_navfac_mo_124():
    check = outside()["clock.potlife.6h"]
    for temp_c, hours in zip(check["inputs"]["T_C"], check["expected"]["h"], strict=True):
        assert stage_time(POLYAMIDE.stages["pot_life"], temp_c).seconds == pytest.approx(
            hours * 3600
        )
        track = steady_track(temp_c, START_AT)
        pot = Pot("p", POLYAMIDE, START_AT, temp_c)
        ends_at = next(
            one.at
            for one in pot_clock(pot, track, START_AT, Band(0.0, 0.0))
            if one.stage == "pot_life"
        )
        assert (ends_at - START_AT).total_seconds() == pytest.approx(hours * 3600, abs=1.0)
        bands = [{"from_c": one.from_c, "to_c": one.to_c, "minutes": one.minutes} for one in BANDS]
        left = calculate(
            "largest_pot",
            {
                "pot_life_minutes": 60.0 * hours,
                "pace_kg_per_minute": 0.1,
                "mixing_minutes": 0.0,
                "reserve_pct": 0.0,
                "induction_by_temp": bands,
                "temp_c": temp_c,
            },
        )
        stands = induction_minutes(POLYAMIDE.mix, temp_c)
        assert left["working_minutes"] == pytest.approx(60.0 * hours - stands)
        assert stands > 0.0


@given(st.floats(10.0, 45.0), st.floats(0.0, 30.0))
def test_a_warmer_mix_never_stands_longer(temp_c, warmer_k):
    cold = induction_minutes(POLYAMIDE.mix, temp_c)
    assert induction_minutes(POLYAMIDE.mix, temp_c + warmer_k) <= cold


def test_where_bands_meet_or_leave_a_gap_the_colder_one_counts():
    gap = Mix(induction_by_temp=(InductionBand(10.0, 15.0, 60.0), InductionBand(20.0, 25.0, 30.0)))
    minutes = [induction_minutes(gap, temp_c) for temp_c in (10.0, 15.0, 17.0, 20.0, 20.1, 25.0)]
    assert minutes == [60.0, 60.0, 60.0, 60.0, 30.0, 30.0]
    for beyond_c in (9.9, 25.1):
        with pytest.raises(OutOfRangeError) as caught:
            induction_minutes(gap, beyond_c)
        assert caught.value.field == "temp_c"


def test_bands_count_before_the_one_time_and_ask_for_a_temperature():
    assert induction_minutes(Mix(induction_minutes=15.0), None) == 15.0
    assert induction_minutes(Mix(), 20.0) == 0.0
    both = replace(POLYAMIDE.mix, induction_minutes=5.0)
    assert induction_minutes(both, 12.0) == 120.0
    with pytest.raises(TradeError) as caught:
        induction_minutes(both, None)
    assert caught.value.field == "temp_c"
