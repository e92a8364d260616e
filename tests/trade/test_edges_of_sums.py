"""The edges and constants of the sums, each pinned where a small slip would show nowhere else."""

from math import pi

import psychrolib
import pytest

from tackwatch.trade.errors import TradeError
from tackwatch.trade.heat import heat_index_f, heat_level
from tackwatch.trade.psychrometer import STANDARD_HPA, rh_of_wet_bulb_pct, vapour_pressure_hpa
from tackwatch.trade.sums.registry import calculate
from tackwatch.trade.units import c_of_f


@pytest.mark.parametrize(
    ("from_f", "level", "below"),
    [
        (80.0, "caution", "none"),
        (90.0, "extreme_caution", "caution"),
        (103.0, "danger", "extreme_caution"),
        (125.0, "extreme_danger", "danger"),
    ],
)
def test_a_class_of_heat_begins_at_its_edge_as_the_nws_chart_has_it_from_memory(
    from_f, level, below
):
    assert (heat_level(from_f), heat_level(from_f - 0.01)) == (level, below)


@pytest.mark.parametrize(("shade_f", "in_sun"), [(88.1, "danger"), (87.9, "extreme_caution")])
def test_full_sun_adds_up_to_fifteen_degf_by_the_us_national_weather_service(shade_f, in_sun):
    low_f, high_f = 80.0, 100.0
    for _ in range(60):
        air_f = (low_f + high_f) / 2.0
        low_f, high_f = (air_f, high_f) if heat_index_f(air_f, 50.0) < shade_f else (low_f, air_f)
    told = calculate("heat_index", {"air_c": c_of_f(low_f), "rh_pct": 50.0})
    assert told["level_in_sun"] == in_sun


@pytest.mark.parametrize(
    ("rule", "readings", "accepted"),
    [
        ("iso_19840", [90.0] * 2 + [110.0] * 8, True),
        ("iso_19840", [90.0] * 4 + [110.0] * 13, False),
        ("iso_19840", [80.0] + [110.0] * 9, True),
        ("iso_19840", [79.0] + [110.0] * 9, False),
        ("imo_90_10", [90.0] + [100.0] * 9, True),
        ("imo_90_10", [95.0] + [110.0] * 7, False),
        ("imo_90_10", [89.0] + [110.0] * 9, False),
        ("sspc_pa_2", [85.0] * 3 + [115.0] * 3, True),
    ],
)
def test_the_share_of_thin_readings_is_met_at_its_edge_and_not_past_it_from_memory(
    rule, readings, accepted
):
    asked = {"readings_um": readings, "specified_um": 100.0, "rule": rule}
    assert calculate("film_acceptance", asked)["accepted"] is accepted


@pytest.mark.parametrize(
    ("rule", "thickest_um", "reasons"),
    [
        ("iso_19840", 205.0, ["reading_too_thick"]),
        ("imo_90_10", 205.0, ["reading_too_thick"]),
        ("sspc_pa_2", 235.0, []),
        ("sspc_pa_2", 245.0, ["reading_too_thick"]),
    ],
)
def test_too_thick_a_reading_is_refused_by_the_rule_from_memory(rule, thickest_um, reasons):
    asked = {"readings_um": [120.0] * 9 + [thickest_um], "specified_um": 100.0, "rule": rule}
    assert calculate("film_acceptance", {**asked, "most_um": 200.0})["reasons"] == reasons


@pytest.mark.parametrize(
    ("dry_c", "wet_c"), [(50.0, 20.0), (50.0, 25.0), (45.0, 40.0), (50.0, 45.0), (30.0, 15.0)]
)
def test_the_balance_of_the_wet_bulb_is_that_of_psychrolib_on_the_same_vapour(
    monkeypatch, dry_c, wet_c
):
    """The vapour is ours on both sides, so that only the constants of the balance are compared."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    monkeypatch.setattr(psychrolib, "GetSatVapPres", lambda at_c: 100.0 * vapour_pressure_hpa(at_c))
    theirs = psychrolib.GetRelHumFromTWetBulb(dry_c, wet_c, 101_325.0)
    ours_pct = rh_of_wet_bulb_pct(dry_c, wet_c, 1013.25)
    assert ours_pct == pytest.approx(100.0 * theirs, abs=1e-4)


def test_the_air_of_the_sea_is_the_standard_atmosphere_by_psychrolib():
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert psychrolib.GetStandardAtmPressure(0.0) / 100.0 == pytest.approx(STANDARD_HPA)
    air = {"air_c": 25.0, "rh_pct": 50.0}
    assert calculate("wet_bulb", air) == calculate("wet_bulb", {**air, "pressure_hpa": 1013.25})


@pytest.mark.parametrize(
    ("wet_um", "teeth"),
    [
        (260.0, (275.0, 300.0)),
        (275.0, (275.0, 300.0)),
        (301.0, (350.0, 400.0)),
        (1000.0, (1000.0, None)),
    ],
)
def test_the_usual_comb_has_a_tooth_each_25_um_and_from_300_each_50_common_practice(wet_um, teeth):
    comb = calculate("comb_target", {"dry_film_um": wet_um, "solids_by_volume_pct": 100.0})
    assert (comb["must_be_wet_um"], comb["should_stay_dry_um"]) == teeth


def test_a_comb_with_two_alike_teeth_is_refused():
    with pytest.raises(TradeError) as caught:
        calculate(
            "comb_target",
            {"dry_film_um": 50.0, "solids_by_volume_pct": 50.0, "teeth_um": [100.0, 100.0]},
        )
    assert caught.value.field == "teeth_um"


@pytest.mark.parametrize(
    ("shape", "lengths", "area_m2"),
    [
        ("rectangle", {"length_m": 3.0, "width_m": 2.0}, 6.0),
        ("triangle", {"length_m": 3.0, "height_m": 2.0}, 3.0),
        ("trapezium", {"length_m": 2.0, "other_length_m": 4.0, "height_m": 1.5}, 4.5),
        ("circle", {"diameter_m": 2.0}, pi),
        ("ellipse", {"length_m": 4.0, "width_m": 2.0}, 2.0 * pi),
        ("cylinder", {"diameter_m": 1.0, "length_m": 2.0}, 2.0 * pi),
        ("half_cylinder", {"diameter_m": 1.0, "length_m": 2.0}, pi),
        ("cone", {"diameter_m": 6.0, "height_m": 4.0}, 15.0 * pi),
        ("half_sphere", {"diameter_m": 2.0}, 2.0 * pi),
    ],
)
def test_each_shape_is_as_large_as_geometry_has_it(shape, lengths, area_m2):
    assert calculate("shape_area", {"shape": shape, **lengths})["area_m2"] == pytest.approx(area_m2)
