import json
from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.trade.arrhenius import stage_time
from tackwatch.trade.cautions import CAUTIONS, DEFERENCE, caution_text
from tackwatch.trade.compatibility import material_of
from tackwatch.trade.errors import ProfileError, TradeError
from tackwatch.trade.profiles import parse_profile, profile_as_dict
from tests.trade.samples import outside, profile_paths, profiles

GOOD = json.loads(next(p for p in profile_paths() if p.stem == "topcoat_two_part_pu").read_text())


def at(name, stage, temp_c=20.0):
    return stage_time(profiles()[name].stages[stage], temp_c).seconds / 60


def changed(path, value):
    """Give the good profile with one place changed; `...` takes it out."""
    data = deepcopy(GOOD)
    *way, last = path
    place = data
    for step in way:
        place = place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return data


@pytest.mark.parametrize("path", profile_paths(), ids=lambda path: path.stem)
def test_each_profile_reads_is_typical_and_speaks_two_languages(path):
    profile = parse_profile(json.loads(path.read_text()))
    assert profile.id == path.stem
    assert profile.typical
    assert "from memory" in profile.basis_note
    assert set(profile.name) >= {"en", "es"}
    assert profile.cautions


@pytest.mark.parametrize("path", profile_paths(), ids=lambda path: path.stem)
def test_a_profile_written_and_read_is_the_same(path):
    profile = parse_profile(json.loads(path.read_text()))
    written = json.loads(json.dumps(profile_as_dict(profile)))
    assert parse_profile(written) == profile
    assert written == json.loads(path.read_text())


def test_there_is_a_profile_for_each_class_of_the_trade():
    assert set(profiles()) == {
        "laminating_epoxy_slow",
        "laminating_epoxy_fast",
        "epoxy_fillet",
        "polyester_laminating",
        "polyester_waxed",
        "vinylester",
        "gelcoat",
        "epoxy_barrier_primer",
        "epoxy_polyamide_primer",
        "antifouling_self_polishing",
        "antifouling_hard",
        "topcoat_two_part_pu",
        "topcoat_one_part",
        "sealant",
    }


H, D = 60, 1440


@pytest.mark.parametrize(
    ("check_id", "name", "quantities"),
    [
        (
            "typ.lam_epoxy_fast",
            "laminating_epoxy_fast",
            [("pot_life", 1), ("touch_dry", H), ("sandable", H)],
        ),
        (
            "typ.lam_epoxy_slow",
            "laminating_epoxy_slow",
            [("pot_life", 1), ("touch_dry", H), ("sandable", H)],
        ),
        (
            "typ.epoxy_barrier",
            "epoxy_barrier_primer",
            [("recoat_opens", H), ("recoat_closes", D)],
        ),
        ("typ.1k", "topcoat_one_part", [("recoat_opens", H)]),
        (
            "typ.2k_pu",
            "topcoat_two_part_pu",
            [("pot_life", H), ("recoat_opens", H), ("recoat_closes", H)],
        ),
        (
            "typ.af_ablative",
            "antifouling_self_polishing",
            [("recoat_opens", H), ("immerse_opens", H), ("immerse_closes", D)],
        ),
        (
            "typ.af_hard",
            "antifouling_hard",
            [("recoat_opens", H), ("immerse_opens", H), ("immerse_closes", D)],
        ),
        ("typ.sealant", "sealant", [("touch_dry", 1)]),
        ("typ.polyester", "polyester_laminating", [("gel", 1)]),
        ("typ.vinylester", "vinylester", [("gel", 1), ("recoat_closes", H)]),
        ("typ.gelcoat", "gelcoat", [("recoat_opens", H), ("recoat_closes", H)]),
    ],
)
def test_times_at_twenty_degrees_are_typical_of_the_class_from_memory(check_id, name, quantities):
    ranges = outside()[check_id]["expected"]["ranges"]
    for (stage, unit), (low, high) in zip(quantities, ranges, strict=False):
        assert low * 0.999 <= at(name, stage) / unit <= high * 1.001, stage


def test_windows_at_twenty_degrees_are_typical_of_the_class_from_memory():
    low, high = outside()["typ.polyester"]["expected"]["ranges"][1]
    assert at("polyester_laminating", "recoat_opens") / H >= low * 0.999
    assert at("polyester_laminating", "recoat_closes") / H <= high * 1.001
    (low, high), sand = outside()["typ.fillet"]["expected"]["ranges"]
    assert at("epoxy_fillet", "recoat_opens") / H >= low * 0.999
    assert at("epoxy_fillet", "recoat_closes") / H <= high * 1.001
    assert sand[0] <= at("epoxy_fillet", "sandable") / H <= sand[1]


@pytest.mark.parametrize("name", ["polyester_laminating", "vinylester", "gelcoat"])
def test_resin_that_stays_tacky_is_never_called_dry_or_sandable(name):
    assert {"touch_dry", "sandable"}.isdisjoint(profiles()[name].stages)


@pytest.mark.parametrize("name", ["vinylester", "gelcoat"])
def test_a_profile_says_the_material_that_its_class_says(name):
    profile = profiles()[name]
    assert profile.compatibility == material_of(profile.product_class) == name


def test_isocyanate_is_named_on_the_polyurethane_mil_hdbk_1110_2_3_6():
    assert "isocyanate" in profiles()["topcoat_two_part_pu"].cautions


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        (["id"], ..., "id"),
        (["id"], "No Spaces", "id"),
        (["version"], 0, "version"),
        (["version"], True, "version"),
        (["product_class"], 7, "product_class"),
        (["name"], {"es": "Pintura"}, "name"),
        (["name"], {"en": "Paint", "english": "Paint"}, "name"),
        (["name", "es"], "  ", "name.es"),
        (["typical"], "yes", "typical"),
        (["basis_note"], "", "basis_note"),
        (["stages"], {}, "stages"),
        (["stages"], [], "stages"),
        (["stages", "drying"], [], "stages.drying"),
        (["stages", "pot_life"], [], "stages.pot_life"),
        (["stages", "pot_life"], {"temp_c": 20}, "stages.pot_life"),
        (["stages", "pot_life", 1, "minutes"], 0, "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], -4, "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], 900, "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], float("nan"), "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], 10**400, "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], "60", "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "minutes"], True, "stages.pot_life[1].minutes"),
        (["stages", "pot_life", 1, "temp_c"], 10, "stages.pot_life[1].temp_c"),
        (["stages", "pot_life", 1, "temp_c"], 400, "stages.pot_life[1].temp_c"),
        (["stages", "pot_life", 1, "temp_f"], 68, "stages.pot_life[1].temp_f"),
        (["stages", "recoat_closes", 2, "minutes"], 200, "stages.recoat_closes[2].minutes"),
        (["closes_by_hottest_hour"], {}, "closes_by_hottest_hour"),
        (["closes_by_hottest_hour", 1, "from_c"], 20, "closes_by_hottest_hour[1].from_c"),
        (["closes_by_hottest_hour", 1, "to_c"], 22, "closes_by_hottest_hour[1].to_c"),
        (
            ["closes_by_hottest_hour", 2, "closes_minutes"],
            9999,
            "closes_by_hottest_hour[2].closes_minutes",
        ),
        (["mix", "by_mass"], {"base": 3}, "mix.by_mass.hardener"),
        (["mix", "by_mass"], {"base": 3, "hardener": 0}, "mix.by_mass.hardener"),
        (["mix", "by_weight"], {}, "mix.by_weight"),
        (
            ["mix", "catalyst"],
            {"min_pct": 1, "usual_pct": 3, "max_pct": 2},
            "mix.catalyst.usual_pct",
        ),
        (["mix", "induction_minutes"], -1, "mix.induction_minutes"),
        (["density_kg_l"], 0, "density_kg_l"),
        (["solids_by_volume_pct"], 101, "solids_by_volume_pct"),
        (["film_um"], float("inf"), "film_um"),
        (["limits", "rh_max_pct"], 0, "limits.rh_max_pct"),
        (["limits", "temp_max_c"], 10, "limits.temp_max_c"),
        (["limits", "wind_max"], 10, "limits.wind_max"),
        (["sanding_after_missed_minutes_per_m2"], -1, "sanding_after_missed_minutes_per_m2"),
        (["cautions"], "dust", "cautions"),
        (["cautions", 0], "sharks", "cautions[0]"),
        (["price"], 10, "price"),
    ],
)
def test_a_wrong_field_is_refused_by_its_name(path, value, field):
    with pytest.raises(ProfileError) as caught:
        parse_profile(changed(path, value))
    assert caught.value.field == field


def test_the_least_profile_is_a_name_and_one_stage():
    least = {name: GOOD[name] for name in ("id", "version", "product_class", "name")}
    least |= {"typical": False, "basis_note": "data sheet of the tin"}
    profile = parse_profile({**least, "stages": {"touch_dry": [{"temp_c": 20, "minutes": 60}]}})
    assert profile.mix.by_mass is None
    assert profile.limits.temp_min_c is None
    assert parse_profile(profile_as_dict(profile)) == profile


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


def field_refused(data):
    """Read a profile: give the top field that was refused, or None when it reads and writes back."""
    try:
        profile = parse_profile(data)
    except ProfileError as error:
        return error.field.split(".")[0].split("[")[0]
    return None if parse_profile(profile_as_dict(profile)) == profile else "round trip"


@settings(deadline=None)
@given(st.sampled_from(sorted(GOOD)), json_values)
def test_whatever_is_put_in_a_field_it_is_read_or_refused_by_that_name(field, value):
    assert field_refused({**GOOD, field: value}) in (None, field)


@settings(deadline=None)
@given(json_values)
def test_anything_that_is_no_profile_is_refused(value):
    with pytest.raises(ProfileError):
        parse_profile(value)


@pytest.mark.parametrize("caution_id", sorted(CAUTIONS))
@pytest.mark.parametrize("language", ["en", "es"])
def test_each_caution_speaks_both_languages_and_gives_way_to_the_data_sheet(caution_id, language):
    text = caution_text(caution_id, language)
    assert text.startswith(CAUTIONS[caution_id][language])
    assert text.endswith(DEFERENCE[language])


def test_a_language_without_text_falls_back_to_english_and_never_to_silence():
    assert caution_text("dust", "fr") == caution_text("dust", "en")
    with pytest.raises(TradeError) as caught:
        caution_text("sharks", "en")
    assert caught.value.field == "cautions"
