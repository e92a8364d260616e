"""Pots, catalyst, hulls and cautions at their edges, each pinned where a small slip would show nowhere else."""

from datetime import timedelta

import pytest

from tackwatch.trade.cautions_by_work import OF_ACTION, OF_CLASS
from tackwatch.trade.errors import TradeError
from tackwatch.trade.laminating_air import laminating_air
from tackwatch.trade.sums.registry import calculate
from tackwatch.trade.types import Reading
from tests.trade.samples import START_AT, hours

HULL = {"length_m": 10.0, "beam_m": 3.0, "draft_m": 2.0}


def refused_for(name, asked):
    with pytest.raises(TradeError) as caught:
        calculate(name, asked)
    return caught.value.field


@pytest.mark.parametrize(
    ("ratio", "level"),
    [(1.0, "ok"), (1.01, "warm"), (2.0, "warm"), (2.01, "runaway")],
)
def test_a_pot_is_warm_above_the_sheet_s_and_runs_away_above_twice_it_common_practice(ratio, level):
    pot = {"pot_kg": ratio, "pot_reference_kg": 1.0, "temp_c": 20.0, "reference_temp_c": 20.0}
    assert calculate("pot_heat", pot)["level"] == level


def test_more_than_two_hundred_pots_are_refused_by_name():
    job = {"pot_kg": 0.1, "pace_kg_per_minute": 1.0, "pot_life_minutes": 30.0}
    assert calculate("next_pot", {**job, "total_kg": 20.0})["pot_count"] == 200
    assert refused_for("next_pot", {**job, "total_kg": 20.01}) == "pot_kg"


@pytest.mark.parametrize(
    ("catalyst_pct", "reasons"),
    [
        (1.24, ["outside_preferred"]),
        (1.25, []),
        (2.0, []),
        (2.01, ["outside_preferred"]),
    ],
)
def test_preferred_catalyst_is_that_of_the_trade_magazine_feb_2017(catalyst_pct, reasons):
    asked = {"resin_kg": 1.0, "temp_c": 20.0, "catalyst_pct": catalyst_pct}
    assert calculate("catalyst", asked)["reasons"] == reasons


@pytest.mark.parametrize(("temp_c", "good"), [(14.9, False), (15, True), (30, True), (30.1, False)])
def test_resin_is_catalysed_from_15_to_30_degc_unless_the_sheet_says_otherwise_common_practice(
    temp_c, good
):
    asked = {"resin_kg": 1.0, "temp_c": temp_c}
    if good:
        assert calculate("catalyst", asked)["catalyst_kg"] == pytest.approx(0.015)
    else:
        assert refused_for("catalyst", asked) == "temp_c"
    assert calculate("catalyst", {**asked, "temp_min_c": 10.0, "temp_max_c": 35.0})


@pytest.mark.parametrize(
    ("part", "factor"),
    [("bottom_long_keel", 1.0), ("bottom_cruising", 0.75), ("bottom_fin_keel", 0.5)],
)
def test_a_bottom_by_rule_of_thumb_is_length_times_beam_and_draft_common_practice(part, factor):
    area_m2 = calculate("hull_rule_of_thumb", {"part": part, **HULL})["area_m2"]
    assert area_m2 == pytest.approx(50.0 * factor)


def test_two_stations_at_one_place_are_refused_by_name():
    asked = {"girths_m": [1.0, 2.0, 3.0], "stations_m": [0.0, 1.0, 1.0]}
    assert refused_for("area_from_girths", asked) == "stations_m[2]"
    first = {"girths_m": [1.0, 2.0], "stations_m": [0.0, 0.0]}
    assert refused_for("area_from_girths", first) == "stations_m[1]"


@pytest.mark.parametrize(("gap_h", "covered"), [(6.0, True), (6.1, False)])
def test_a_gap_above_six_hours_leaves_the_day_uncovered_our_own_caution(gap_h, covered):
    back_h = (24.0, 18.0, 12.0, 12.0 - gap_h, 3.0, 0.0)
    day = [Reading(START_AT - timedelta(hours=one), air_c=20.0, rh_pct=50.0) for one in back_h]
    assert laminating_air(day, START_AT).covered is covered
    assert laminating_air(day, START_AT + hours(24)).covered is False


CLASSES = {
    "laminating_epoxy": {"skin_sensitising", "pot_heat", "dust"},
    "epoxy_fillet": {"skin_sensitising", "pot_heat", "dust"},
    "epoxy_barrier_primer": {"skin_sensitising", "solvents", "dust"},
    "polyester_laminating": {"peroxide", "styrene", "pot_heat", "dust"},
    "polyester_waxed": {"peroxide", "styrene", "pot_heat", "dust"},
    "vinylester": {"peroxide", "styrene", "pot_heat", "dust"},
    "gelcoat": {"peroxide", "styrene", "dust"},
    "topcoat_one_part": {"solvents"},
    "topcoat_two_part_pu": {"isocyanate", "solvents"},
    "antifouling_hard": {"biocide_dust", "solvents"},
    "antifouling_self_polishing": {"biocide_dust", "solvents"},
    "sealant": {"isocyanate", "solvents"},
}
ACTIONS = {
    "mix": {"skin_sensitising", "pot_heat"},
    "brush_or_roll": {"solvents"},
    "spray": {"spray_mist", "solvents"},
    "laminate": {"skin_sensitising", "glass_fibre"},
    "sand": {"dust"},
    "grind": {"dust", "glass_fibre", "power_tools"},
    "wipe_with_solvent": {"solvents", "rags"},
    "warm_to_cure": {"warming"},
    "work_in_closed_space": {"closed_space", "solvents"},
    "work_at_height": {"heights"},
    "work_in_heat": {"heat_stress"},
}


def asked_for(field, name):
    found = calculate("cautions", {field: name})["cautions"]
    return [one["id"] for one in found]


@pytest.mark.parametrize("name", sorted(OF_CLASS))
def test_each_class_warns_of_what_is_in_it_common_practice_no_source(name):
    assert set(asked_for("product_class", name)) >= CLASSES[name]


@pytest.mark.parametrize("name", sorted(OF_ACTION))
def test_each_action_warns_of_what_it_does_common_practice_no_source(name):
    assert set(asked_for("action", name)) >= ACTIONS[name]


@pytest.mark.parametrize("no_text", [7, True, ["dust"], {}])
def test_a_text_that_is_none_is_refused_by_name(no_text):
    assert refused_for("cautions", {"product_class": no_text}) == "product_class"


def test_a_text_may_be_two_thousand_signs_long_and_no_more():
    assert asked_for("product_class", "x" * 2000)
    assert refused_for("cautions", {"product_class": "x" * 2001}) == "product_class"


@pytest.mark.parametrize("no_list", ["1,2", 5.0, {"0": 1.0}])
def test_a_list_that_is_none_is_refused_by_name(no_list):
    assert refused_for("net_area", {"areas_m2": no_list}) == "areas_m2"
