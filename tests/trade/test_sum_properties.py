"""What must hold of the sums whatever is put in: finite, monotone by physics, twins alike, there and back."""

import json
from functools import partial
from itertools import product
from time import process_time

import psychrolib
import pytest
import scipy.integrate
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tackwatch.trade import packs as packs_module
from tackwatch.trade.errors import TradeError
from tackwatch.trade.packs import packs_for
from tackwatch.trade.sums.registry import all_sums, calculate, describe
from tests.vectors.yard_cases import YardCases

FAMILIES = ("air", "heat", "film", "mix", "area", "cautions")
SUMS = [describe(one) for one in all_sums().values() if one.family in FAMILIES]

quickly = partial(settings, deadline=None, max_examples=60)
airs_c = st.floats(0.0, 45.0)
rhs_pct = st.floats(5.0, 100.0)
solids_pct = st.floats(5.0, 100.0)
films_um = st.floats(5.0, 2000.0)


@pytest.mark.parametrize("one", SUMS, ids=[one["name"] for one in SUMS])
@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**32))
def test_what_is_accepted_gives_numbers_that_fit_the_schema_and_what_is_not_is_named(one, seed):
    """Source of the check: the package jsonschema (JSON Schema 2020-12)."""
    draw = YardCases(seed)
    takes, gives = (Draft202012Validator(one[side]) for side in ("takes", "gives"))
    for _ in range(5):
        data = draw.case(one["name"], one["takes"])["input"]
        answer, refused_for = attempt(one["name"], data)
        if refused_for is not None:
            assert refused_for
            continue
        assert takes.is_valid(data)
        assert list(gives.iter_errors(answer)) == []


@pytest.mark.parametrize("one", SUMS, ids=[one["name"] for one in SUMS])
def test_the_ends_of_every_range_are_accepted_or_refused_by_name(one):
    properties = one["takes"]["properties"]
    draw = YardCases(5)
    base = next(
        data
        for data in (draw.case(one["name"], one["takes"])["input"] for _ in range(200))
        if attempt(one["name"], data)[1] is None
    )
    for name, schema in properties.items():
        for end in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
            if end in schema:
                assert attempt(one["name"], {**base, name: schema[end]}) != (None, "")
                beyond = schema[end] + (1.0 if "ax" in end else -1.0)
                with pytest.raises(TradeError) as caught:
                    calculate(one["name"], {**base, name: beyond})
                assert caught.value.field == name


def attempt(name, data):
    """Give the answer as JSON, or the field that was refused; NaN and other errors are raised."""
    try:
        return json.loads(json.dumps(calculate(name, data), allow_nan=False)), None
    except TradeError as error:
        return None, error.field


@quickly()
@given(air_c=airs_c, low=rhs_pct, high=rhs_pct)
def test_damper_air_has_a_higher_dew_point_and_wet_bulb_and_neither_passes_the_air(
    air_c, low, high
):
    low, high = sorted((low, high))
    for name, key in (("dew_point", "dew_point_c"), ("wet_bulb", "wet_bulb_c")):
        drier, damper = (calculate(name, {"air_c": air_c, "rh_pct": rh})[key] for rh in (low, high))
        assert drier <= damper + 1e-9
        assert damper <= air_c + 1e-9
    dew = calculate("dew_point", {"air_c": air_c, "rh_pct": low})["dew_point_c"]
    assert dew <= calculate("wet_bulb", {"air_c": air_c, "rh_pct": low})["wet_bulb_c"] + 1e-9


@quickly()
@given(air_c=airs_c, rh_pct=rhs_pct, pressure_hpa=st.floats(700.0, 1080.0))
def test_humidity_comes_back_from_the_wet_bulb_and_from_the_dew_point(air_c, rh_pct, pressure_hpa):
    air = {"air_c": air_c, "rh_pct": rh_pct}
    wet_c = calculate("wet_bulb", {**air, "pressure_hpa": pressure_hpa})["wet_bulb_c"]
    dew_c = calculate("dew_point", air)["dew_point_c"]
    assume(dew_c > -44.0)
    back = calculate("humidity_from_dew_point", {"air_c": air_c, "dew_point_c": min(dew_c, air_c)})
    assert back["rh_pct"] == pytest.approx(rh_pct, abs=1e-6)
    assume(wet_c >= 0.0)
    bulbs = {"dry_bulb_c": air_c, "wet_bulb_c": min(wet_c, air_c), "pressure_hpa": pressure_hpa}
    assert calculate("humidity_from_wet_bulb", bulbs)["rh_pct"] == pytest.approx(rh_pct, abs=1e-6)


@quickly(max_examples=200)
@given(air_c=airs_c, rh_pct=st.floats(10.0, 100.0), pressure_hpa=st.floats(800.0, 1050.0))
def test_wet_bulb_and_humidity_agree_with_psychrolib_over_the_yard_s_weather(
    air_c, rh_pct, pressure_hpa
):
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs_c = psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100.0, pressure_hpa * 100.0)
    assume(theirs_c > 0.05)  # below, psychrolib turns to ice
    air = {"air_c": air_c, "rh_pct": rh_pct, "pressure_hpa": pressure_hpa}
    assert calculate("wet_bulb", air)["wet_bulb_c"] == pytest.approx(theirs_c, abs=0.05)
    bulbs = {"dry_bulb_c": air_c, "wet_bulb_c": theirs_c, "pressure_hpa": pressure_hpa}
    assume(theirs_c <= air_c)
    assert calculate("humidity_from_wet_bulb", bulbs)["rh_pct"] == pytest.approx(rh_pct, abs=0.3)


@quickly()
@given(air_c=st.floats(28.0, 42.0), warmer_k=st.floats(0.5, 5.0), rh_pct=st.floats(40.0, 80.0))
def test_hotter_air_is_never_easier_on_the_crew(air_c, warmer_k, rh_pct):
    feels = [
        calculate("heat_index", {"air_c": at, "rh_pct": rh_pct})["heat_index_c"]
        for at in (air_c, air_c + warmer_k)
    ]
    assert feels[0] < feels[1]


@quickly()
@given(dry_um=films_um, solids=solids_pct, thinning_pct=st.floats(0.0, 50.0))
def test_dry_film_comes_back_from_the_wet_film_and_thinner_asks_for_more(
    dry_um, solids, thinning_pct
):
    paint = {"solids_by_volume_pct": solids, "thinning_pct": thinning_pct}
    wet_um = calculate("wet_film", {"dry_film_um": dry_um, **paint})["wet_film_um"]
    assume(wet_um <= 50_000.0)
    back = calculate("dry_film", {"wet_film_um": wet_um, **paint})["dry_film_um"]
    assert back == pytest.approx(dry_um)
    bare = calculate("wet_film", {"dry_film_um": dry_um, "solids_by_volume_pct": solids})
    assert dry_um <= bare["wet_film_um"] * (1 + 1e-12)
    assert bare["wet_film_um"] <= wet_um


@quickly()
@given(dry_um=films_um, more_um=st.floats(1.0, 500.0), solids=solids_pct, loss=st.floats(0.0, 80.0))
def test_a_thicker_film_never_covers_more_and_loss_never_less_paint(dry_um, more_um, solids, loss):
    paint = {"solids_by_volume_pct": solids, "loss_pct": loss}
    thin, thick = (
        calculate("spreading_rate", {"dry_film_um": um, **paint})
        for um in (dry_um, dry_um + more_um)
    )
    assert thick["practical_m2_per_l"] < thin["practical_m2_per_l"]
    assert thin["practical_m2_per_l"] <= thin["theoretical_m2_per_l"]
    need = calculate("paint_needed", {"area_m2": 20.0, "dry_film_um": dry_um, **paint})
    assert need["order_l"] * thin["practical_m2_per_l"] == pytest.approx(20.0)
    assert need["order_l"] >= need["theoretical_l"]


@quickly(max_examples=150)
@given(
    need_ml=st.integers(1, 12_000),
    sizes_ml=st.lists(
        st.sampled_from([375, 500, 750, 1000, 2000, 2500, 5000]), min_size=1, max_size=4
    ),
)
def test_packs_are_the_fewest_and_leave_the_least_by_trying_everything(need_ml, sizes_ml):
    sizes = sorted(set(sizes_ml))
    counts = product(*(range(need_ml // size + 2) for size in sizes))
    held = ((sum(n), sum(map(int.__mul__, n, sizes))) for n in counts)
    best = min(
        ((n, total) for n, total in held if total >= need_ml), key=lambda one: (one[0], one[1])
    )
    found = packs_for(need_ml / 1000.0, [size / 1000.0 for size in sizes_ml])
    total_ml = round(sum(one.pack_l * one.count for one in found) * 1000.0)
    assert (sum(one.count for one in found), total_ml) == best


ODD_SIZES_ML = st.lists(st.integers(10, 60_000), min_size=2, max_size=8)
NEAR_SIZES_ML = st.lists(st.integers(59_900, 60_000), min_size=2, max_size=8)


@quickly(max_examples=60)
@given(packs=st.integers(1, packs_module.PACKS_MOST), sizes_ml=ODD_SIZES_ML | NEAR_SIZES_ML)
def test_no_choice_of_packs_takes_more_than_some_milliseconds(packs, sizes_ml):
    need_l = (packs * max(sizes_ml) - max(sizes_ml) + 1) / 1000.0
    took_s = []
    for _ in range(3):
        start_s = process_time()
        found = packs_for(need_l, [size / 1000.0 for size in sizes_ml])
        took_s.append(process_time() - start_s)
    assert min(took_s) < 0.03
    assert sum(one.count for one in found) == packs
    assert sum(one.pack_l * one.count for one in found) >= need_l * (1.0 - 1e-8)


@pytest.mark.parametrize(
    ("need_ml", "sizes_ml"),
    [
        (150_001, [60_000, 59_999, 30_001, 20_003, 44_449, 11_117]),
        (899_000, [60_000, 59_999, 59_997, 59_000]),
        (20_011, [5_000, 4_999, 2_503, 1_001]),
        (7_013, [997, 750, 375]),
    ],
)
def test_odd_packs_leave_the_least_by_a_table_of_every_sum(need_ml, sizes_ml):
    largest = max(sizes_ml)
    packs = -(-need_ml // largest)
    fewest = [0] + [10**9] * (packs * largest)
    for held in range(1, len(fewest)):
        fewest[held] = 1 + min(
            (fewest[held - one] for one in sizes_ml if one <= held), default=10**9
        )
    least = next(held for held in range(need_ml, len(fewest)) if fewest[held] <= packs)
    found = packs_for(need_ml / 1000.0, [size / 1000.0 for size in sizes_ml])
    assert round(sum(one.pack_l * one.count for one in found) * 1000.0) == least
    assert sum(one.count for one in found) == packs


def test_more_packs_than_anybody_buys_are_refused_by_name():
    asked = {"area_m2": 100.0, "dry_film_um": 100.0, "solids_by_volume_pct": 50.0}
    with pytest.raises(TradeError) as caught:
        calculate("paint_needed", {**asked, "pack_sizes_l": [0.03]})
    assert caught.value.field == "pack_sizes_l"
    assert calculate("paint_needed", {**asked, "pack_sizes_l": [0.04]})["pack_count"] == 500


@quickly(max_examples=100)
@given(
    girths=st.lists(st.floats(0.5, 8.0), min_size=2, max_size=25),
    gaps=st.lists(st.floats(0.7, 1.4), min_size=24, max_size=24),
)
def test_uneven_stations_agree_with_scipy_1_17_1_and_two_sides_are_twice_one(girths, gaps):
    stations = [sum(gaps[:i]) for i in range(len(girths))]
    asked = {"girths_m": girths, "stations_m": stations}
    both, whole = (
        calculate("area_from_girths", {**asked, "girths_are": are})["area_m2"]
        for are in ("one_side", "whole")
    )
    assert both == pytest.approx(2.0 * whole)
    theirs = scipy.integrate.simpson(girths, x=stations)
    assume(theirs > 0.0)
    assert whole == pytest.approx(theirs, rel=1e-9)


@quickly()
@given(girths=st.lists(st.floats(0.5, 8.0), min_size=3, max_size=21), spacing_m=st.floats(0.1, 3.0))
def test_a_hull_measured_from_the_other_end_is_the_same_hull(girths, spacing_m):
    assume(len(girths) % 2 == 1)
    areas = [
        calculate("area_from_girths", {"girths_m": one, "spacing_m": spacing_m})["area_m2"]
        for one in (girths, girths[::-1])
    ]
    assert areas[0] == pytest.approx(areas[1])


@quickly()
@given(areas=st.lists(st.floats(0.0, 50.0), min_size=1, max_size=6), opening=st.floats(0.0, 5.0))
def test_twin_sides_are_twice_one_side_openings_included(areas, opening):
    assume(sum(areas) >= opening)
    asked = {"areas_m2": areas, "openings_m2": [opening]}
    one = calculate("net_area", asked)
    two = calculate("net_area", {**asked, "twin_sides": True})
    assert two["area_m2"] == pytest.approx(2.0 * one["area_m2"])
    assert two["gross_m2"] == pytest.approx(2.0 * one["gross_m2"])


@quickly()
@given(base=st.floats(1.0, 100.0), hardener=st.floats(1.0, 100.0), total=st.floats(0.01, 100.0))
def test_base_hardener_and_total_name_the_same_pot(base, hardener, total):
    for name, unit in (("mix_by_mass", "kg"), ("mix_by_volume", "l")):
        ratio = {"ratio_base": base, "ratio_hardener": hardener}
        pot = calculate(name, {**ratio, f"total_{unit}": total})
        assert pot[f"base_{unit}"] + pot[f"hardener_{unit}"] == pytest.approx(total)
        for part in ("base", "hardener"):
            again = calculate(name, {**ratio, f"{part}_{unit}": pot[f"{part}_{unit}"]})
            assert again[f"total_{unit}"] == pytest.approx(total)


@quickly()
@given(temp_c=st.floats(0.0, 40.0), warmer_k=st.floats(0.1, 20.0), pot_kg=st.floats(0.05, 5.0))
def test_a_hotter_or_larger_pot_is_never_safer(temp_c, warmer_k, pot_kg):
    pot = {"pot_kg": pot_kg, "temp_c": temp_c, "pot_life_minutes": 30.0}
    cool = calculate("pot_heat", pot)
    hot = calculate("pot_heat", {**pot, "temp_c": temp_c + warmer_k})
    large = calculate("pot_heat", {**pot, "pot_kg": 2.0 * pot_kg})
    assert cool["heat_ratio"] < min(hot["heat_ratio"], large["heat_ratio"])
    assert hot["pot_life_at_most_minutes"] < cool["pot_life_at_most_minutes"]
    at_safe = calculate("pot_heat", {**pot, "pot_kg": cool["safe_kg"]})
    assert at_safe["level"] == "ok"


@quickly()
@given(
    pace=st.floats(0.01, 0.3),
    life=st.floats(15.0, 200.0),
    mixing=st.floats(0.0, 6.0),
    induction=st.floats(0.0, 8.0),
)
def test_the_largest_pot_is_empty_in_time_and_the_next_is_ready_when_it_is(
    pace, life, mixing, induction
):
    times = {"pot_life_minutes": life, "mixing_minutes": mixing, "induction_minutes": induction}
    paced = {**times, "pace_kg_per_minute": pace}
    pot_kg = calculate("largest_pot", {**paced, "reserve_pct": 0.0})["largest_kg"]
    plan = calculate("next_pot", {**paced, "pot_kg": pot_kg, "total_kg": 7.5 * pot_kg})
    assert (plan["reasons"], plan["pot_count"]) == ([], 8)
    assert sum(pot["pot_kg"] for pot in plan["pots"]) == pytest.approx(7.5 * pot_kg)
    for now, after in zip(plan["pots"], plan["pots"][1:], strict=False):
        assert after["use_from_minutes"] == pytest.approx(now["empty_at_minutes"])
        assert after["stir_at_minutes"] >= now["stir_at_minutes"]
    larger = {**paced, "pot_kg": 1.1 * pot_kg, "total_kg": 3.0 * pot_kg}
    assert calculate("next_pot", larger)["reasons"] == ["pot_too_large"]


def test_the_surface_margin_passes_each_rule_at_its_edge_and_fails_just_below():
    air = {"air_c": 20.0, "rh_pct": 60.0}
    edges = calculate("surface_margin", {**air, "surface_c": 20.0})
    for need, rule in (("need_surface_3k_c", "ok_3k"), ("need_surface_5f_c", "ok_5f")):
        at = calculate("surface_margin", {**air, "surface_c": edges[need]})
        below = calculate("surface_margin", {**air, "surface_c": edges[need] - 0.01})
        assert (at[rule], below[rule]) == (True, False)
