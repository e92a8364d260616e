"""Laminates, tapers, strips, fillets and filler, against rules, handbooks and geometry."""

from math import inf, nan, pi, radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.fillet import FILLERS, filled, fillet
from tackwatch.trade.laminate import TYPICAL_GLASS_PCT, Ply, Waste, laminate, mixed_kg, ply_laid
from tackwatch.trade.mix import parts_by_mass
from tackwatch.trade.scarf import (
    CENTRES_RULE_MM,
    OVERLAP_RULE_MM,
    RATIO_RULE,
    patch,
    strips,
    taper,
)
from tackwatch.trade.types import Mix, Ratio
from tests.trade.samples import outside

FIBRES = st.floats(0.05, 3.0)
CONTENTS = st.floats(10.0, 80.0)
KINDS = st.sampled_from(sorted(TYPICAL_GLASS_PCT))
MAT = Ply("mat", 0.45, 30.0)


@pytest.mark.parametrize("check_id", ["lam.t.450.30", "lam.t.1000.25"])
def test_a_ply_is_as_thick_as_iso_12215_5_has_it_from_memory(check_id):
    check = outside()[check_id]
    given, expected = check["inputs"], check["expected"]
    ply = ply_laid(Ply("mat", given["w_kg_m2"], 100 * given["psi"]))
    tolerance = check["tolerance"]["abs"]
    assert ply.thickness_mm == pytest.approx(expected["t_mm"], abs=tolerance)
    assert ply.resin_kg_m2 == pytest.approx(expected["resin_kg_m2"], abs=tolerance)
    assert ply.fibre_volume_pct / 100 == pytest.approx(expected["Vf"], abs=tolerance)
    assert ply.density_kg_l == pytest.approx(expected["rho_g_cm3"], abs=tolerance)


@given(FIBRES, CONTENTS)
def test_volumes_add_up_to_the_formula_of_iso_12215_5_from_memory(fibre, content):
    ply = ply_laid(Ply("woven", fibre, content))
    assert ply.thickness_mm == pytest.approx(fibre / 3.072 * (256.0 / content - 1.36))


def test_a_pot_of_four_to_one_splits_and_wets_its_strip_by_tm_55_1905_223_sdc_8_24():
    check = outside()["lam.army.4to1"]
    parts = parts_by_mass(Mix(by_mass=Ratio(4.0, 1.0)), check["expected"]["total_g"] / 1000)
    assert parts.base_kg * 1000 == pytest.approx(check["inputs"]["resin_g"])
    assert parts.hardener_kg * 1000 == pytest.approx(check["inputs"]["hardener_g"])
    wide_in, long_in = check["inputs"]["strip_in"]
    need_kg = wide_in * long_in * 2.0 / 1000
    assert need_kg * 1000 == pytest.approx(check["expected"]["need_g_at_2_per_in2"])
    mixed = mixed_kg(need_kg, Waste(pct=4.0))
    assert mixed == pytest.approx(parts.base_kg + parts.hardener_kg)


@given(FIBRES, CONTENTS, CONTENTS)
def test_more_glass_in_the_same_cloth_is_never_thicker_nor_wetter(fibre, one, other):
    poor, rich = (ply_laid(Ply("mat", fibre, content)) for content in sorted((one, other)))
    assert rich.thickness_mm <= poor.thickness_mm
    assert rich.resin_kg_m2 <= poor.resin_kg_m2


@given(st.lists(st.tuples(KINDS, FIBRES), min_size=1, max_size=8), st.floats(0.0, 100.0))
def test_a_schedule_is_the_sum_of_its_plies_in_any_order(pairs, area_m2):
    plies = [Ply(kind, fibre) for kind, fibre in pairs]
    one, other = laminate(plies, area_m2), laminate(plies[::-1], area_m2)
    assert one.thickness_mm == pytest.approx(other.thickness_mm)
    assert one.resin_mixed_kg == pytest.approx(other.resin_mixed_kg)
    assert one.mass_kg == pytest.approx(one.fibre_kg + one.resin_laid_kg)
    assert one.thickness_mm == pytest.approx(sum(ply.thickness_mm for ply in one.plies))
    assert one.typical


def test_what_is_lost_is_a_share_of_what_is_mixed_and_not_of_what_is_laid():
    assert mixed_kg(0.85, Waste(pct=15.0)) == pytest.approx(1.0)
    assert mixed_kg(0.5, Waste(pct=0.0, tools_n=3, tool_kg=0.04)) == pytest.approx(0.62)


@pytest.mark.parametrize("bad", [nan, inf, -1.0, 0.0])
@pytest.mark.parametrize("field", ["fibre_kg_m2", "glass_pct"])
def test_a_ply_that_is_none_is_refused_by_its_field(field, bad):
    with pytest.raises(OutOfRangeError) as caught:
        ply_laid(Ply(**{"kind": "mat", "fibre_kg_m2": 0.45, "glass_pct": 30.0, field: bad}))
    assert caught.value.field == field


def test_the_ply_at_fault_in_a_schedule_is_named():
    with pytest.raises(TradeError) as caught:
        laminate([MAT, Ply("mat", -0.1)], 1.0)
    assert caught.value.field == "plies[1].fibre_kg_m2"
    with pytest.raises(TradeError) as caught:
        laminate([], 1.0)
    assert caught.value.field == "plies"
    with pytest.raises(TradeError) as caught:
        laminate([MAT], 1.0, Waste(pct=81.0))
    assert caught.value.field == "waste.pct"


def test_a_taper_of_twelve_to_one_reaches_as_far_as_geometry_has_it():
    check = outside()["lam.scarf.100.6.12"]
    given = check["inputs"]
    ground = taper(given["hole_mm"], given["t_mm"], given["ratio"])
    assert ground.outer_mm == pytest.approx(check["expected"]["outer_mm"])
    assert ground.ring_mm2 == pytest.approx(check["expected"]["ring_mm2"], abs=0.1)


def test_rules_of_taper_and_overlap_are_those_of_soundings_and_the_class_society_301():
    assert outside()["lam.scarf.12"]["expected"]["ratio"] == RATIO_RULE
    rule = outside()["lam.overlap"]["expected"]
    assert rule["overlap_min_mm"] == OVERLAP_RULE_MM
    assert rule["centre_lines_apart_min_mm"] == CENTRES_RULE_MM
    assert taper(100.0, 6.0, 11.9).notes == ("ratio_below_rule",)
    assert taper(100.0, 6.0).notes == ()


def test_plies_step_by_fifty_at_each_edge_when_the_taper_asks_for_it_special_service_craft_8_2():
    step_mm = outside()["lam.stagger"]["expected"]["mm_per_ply"]
    ply = ply_laid(MAT)
    cut = patch([MAT] * 3, 100.0, 3 * ply.thickness_mm, ratio=step_mm / ply.thickness_mm)
    assert [one.width_mm for one in cut.plies] == pytest.approx([200.0, 300.0, 400.0])


@given(st.floats(0.0, 2000.0), st.floats(1.0, 30.0), st.floats(5.0, 50.0), st.integers(1, 12))
def test_plies_of_a_patch_only_grow_and_fill_the_ring_when_they_are_thick_enough(
    hole_mm, thickness_mm, ratio, n
):
    cut = patch([MAT] * n, hole_mm, thickness_mm, ratio)
    widths = [hole_mm, *(ply.width_mm for ply in cut.plies)]
    assert widths == sorted(widths)
    thick = cut.thickness_mm >= thickness_mm - 1e-9
    assert ("thinner_than_laminate" in cut.notes) is not thick
    assert (widths[-1] >= cut.taper.outer_mm - 1e-6) is thick
    assert cut.resin_laid_kg == pytest.approx(
        sum(pi / 4 * w**2 / 1e6 * 1.05 for w in widths[1:]), rel=1e-6
    )


def test_plies_as_thick_as_the_laminate_end_at_the_ring_and_one_more_laps_over_it():
    thickness_mm = 3 * ply_laid(MAT).thickness_mm
    cut = patch([MAT] * 5, 80.0, thickness_mm)
    widths = [ply.width_mm for ply in cut.plies]
    assert widths[2] == pytest.approx(cut.taper.outer_mm)
    assert widths[3:] == pytest.approx([widths[2] + 100.0, widths[2] + 200.0])
    assert patch([MAT] * 4, 80.0, thickness_mm, overlap_mm=30.0).notes == ("overlap_below_rule",)


@given(st.floats(50.0, 20_000.0), st.floats(200.0, 2000.0), st.floats(0.0, 90.0))
def test_strips_cover_the_width_and_one_fewer_would_not(width_mm, roll_mm, overlap_mm):
    laid = strips(width_mm, 1000.0, roll_mm, overlap_mm=overlap_mm)
    n = laid.strips_n[0]
    assert n * roll_mm - (n - 1) * overlap_mm >= width_mm - 1e-6
    assert n == 1 or (n - 1) * roll_mm - (n - 2) * overlap_mm < width_mm + 1e-6
    assert laid.cloth_m2 >= width_mm / 1000.0 - 1e-9


def test_seams_of_neighbouring_plies_lie_a_stagger_apart_and_too_near_is_named():
    laid = strips(3000.0, 1000.0, 1000.0, plies_n=3)
    assert laid.seams_mm == (
        (950.0, 1900.0, 2850.0),
        (850.0, 1800.0, 2750.0),
        (750.0, 1700.0, 2650.0),
    )
    assert laid.notes == ()
    near = strips(3000.0, 1000.0, 1000.0, plies_n=2, stagger_mm=99.0)
    assert near.notes == ("seams_too_near",)
    with pytest.raises(TradeError) as caught:
        strips(1_000_000.0, 1000.0, 20.0, plies_n=200)
    assert caught.value.field in ("overlap_mm", "roll_mm")


def test_a_fillet_in_a_right_angle_takes_what_geometry_has():
    check = outside()["lam.fillet.20"]
    bead = fillet(check["inputs"]["r_mm"], 1.0)
    assert bead.face_mm2 == pytest.approx(check["expected"]["mm2"], abs=0.001)
    assert bead.ml_per_m == pytest.approx(check["expected"]["mL_per_m"], abs=0.001)


@given(st.floats(1.0, 100.0), st.floats(15.0, 165.0))
def test_a_fillet_s_face_is_the_kite_less_the_sector_by_numerical_geometry(radius_mm, angle_deg):
    half = radians(angle_deg) / 2
    kite = radius_mm * radius_mm / tan(half)
    sector = radius_mm**2 * (pi - 2 * half) / 2
    bead = fillet(radius_mm, 1.0, angle_deg)
    assert bead.face_mm2 == pytest.approx(kite - sector)
    assert 0.0 < bead.throat_mm < bead.leg_mm or angle_deg > 90.0
    assert fillet(radius_mm, 1.0, angle_deg + 1.0).face_mm2 < bead.face_mm2
    assert fillet(2 * radius_mm, 1.0, angle_deg).face_mm2 == pytest.approx(4 * bead.face_mm2)


@given(st.sampled_from(sorted(FILLERS)), st.floats(0.0, 9.0), st.floats(0.01, 50.0))
def test_more_filler_never_takes_more_resin_and_mass_is_kept(filler, parts, volume_l):
    paste = filled(volume_l, filler, "sags", parts, waste_pct=0.0)
    richer = filled(volume_l, filler, "sags", parts + 1.0, waste_pct=0.0)
    assert richer.resin_kg < paste.resin_kg
    assert paste.resin_kg + paste.filler_kg == pytest.approx(volume_l * paste.density_kg_l)


def test_a_stiffer_paste_takes_more_filler_and_light_filler_carries_no_load_common_practice():
    for name, kind in FILLERS.items():
        made = [filled(1.0, name, how) for how in ("runs", "sags", "stands")]
        assert made[0].filler_loose_l < made[1].filler_loose_l < made[2].filler_loose_l
        assert all(one.typical and one.parts_low < one.parts_high for one in made)
        assert made[0].structural is kind.structural
    assert not FILLERS["bubbles"].structural
    assert FILLERS["silica"].structural
