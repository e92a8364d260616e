import pytest

from tackwatch.trade import units
from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.mix import (
    catalyst_kg,
    hardener_kg,
    hardener_l,
    parts_by_mass,
    parts_by_volume,
)
from tackwatch.trade.types import Mix, Ratio
from tests.trade.samples import outside, profiles

EPOXY = Mix(by_mass=Ratio(100.0, 30.0), by_volume=Ratio(3.0, 1.0))


def test_hardener_follows_the_ratio_by_mass_and_by_volume():
    assert hardener_kg(EPOXY, 0.5) == pytest.approx(0.15)
    assert hardener_l(EPOXY, 0.6) == pytest.approx(0.2)


def test_a_total_is_split_into_its_parts_and_nothing_is_lost():
    by_mass = parts_by_mass(EPOXY, 1.3)
    assert (by_mass.base_kg, by_mass.hardener_kg) == pytest.approx((1.0, 0.3))
    by_volume = parts_by_volume(EPOXY, 0.8)
    assert (by_volume.base_l, by_volume.hardener_l) == pytest.approx((0.6, 0.2))


def test_a_ratio_that_the_tin_does_not_give_is_never_guessed():
    with pytest.raises(TradeError) as caught:
        parts_by_volume(Mix(by_mass=Ratio(100.0, 30.0)), 1.0)
    assert caught.value.field == "mix.by_volume"


def test_polyester_profiles_stay_in_the_peroxide_band_of_the_trade_magazine_feb_2017():
    check = outside()["lam.mekp.range"]["expected"]
    for name in ("polyester_laminating", "polyester_waxed"):
        catalyst = profiles()[name].mix.catalyst
        assert [catalyst.min_pct, catalyst.max_pct] == check["pct"]
        assert check["preferred"][0] <= catalyst.usual_pct <= check["preferred"][1]


def test_catalyst_goes_by_the_resin_s_mass_and_only_inside_its_range():
    mix = profiles()["polyester_laminating"].mix
    assert catalyst_kg(mix, 2.0) == pytest.approx(0.03)
    assert catalyst_kg(mix, 2.0, 2.0) == pytest.approx(0.04)
    for percent in (0.9, 2.6, float("nan")):
        with pytest.raises(OutOfRangeError) as caught:
            catalyst_kg(mix, 2.0, percent)
        assert caught.value.field == "catalyst_pct"


def test_catalyst_is_refused_for_a_product_without_one():
    with pytest.raises(TradeError) as caught:
        catalyst_kg(EPOXY, 1.0)
    assert caught.value.field == "mix.catalyst"


@pytest.mark.parametrize("amount", [-0.1, float("nan"), float("inf")])
def test_an_amount_that_is_no_amount_is_refused(amount):
    with pytest.raises(OutOfRangeError) as caught:
        hardener_kg(EPOXY, amount)
    assert caught.value.field == "base_kg"


@pytest.mark.parametrize(
    ("got", "expected"),
    [
        (units.c_of_f(45.0), 7.2222),
        (units.c_of_f(90.0), 32.2222),
        (units.f_of_c(100.0), 212.0),
        (units.k_of_f_span(5.0), 2.7778),
        (units.k_of_c(20.0), 293.15),
        (units.um_of_mil(2.0), 50.8),
        (units.kg_of_lb(2.0), 0.90718474),
        (units.l_of_us_gal(1.0), 3.785411784),
        (units.m2_of_ft2(100.0), 9.290304),
        (units.minutes_of_hours(2.5), 150.0),
        (units.minutes_of_days(2.0), 2880.0),
    ],
)
def test_units_follow_their_definitions_in_nist_sp_811_appendix_b8(got, expected):
    assert got == pytest.approx(expected, abs=5e-5)
