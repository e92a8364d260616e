"""Each sum against values from outside the project; every check names its source."""

import pytest

from tackwatch.trade import surface
from tackwatch.trade.cautions import caution_text
from tackwatch.trade.cautions_by_work import OF_ACTION, OF_CLASS
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.registry import all_sums, calculate
from tests.trade.samples import outside
from tests.vectors.trade_compare import differences

CHECKS = [check for check in outside().values() if "sum" in check]


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_the_sum_gives_the_value_of_the_named_source(check):
    asked = check["sum"]
    gives = asked["gives"]
    assert check["source"]
    if "error" in gives:
        with pytest.raises(TradeError) as caught:
            calculate(asked["name"], asked["given"])
        assert caught.value.field == gives["error"]
        return
    answer = calculate(asked["name"], asked["given"])
    tolerances = asked.get("rel", 0.0), asked.get("abs", 0.0)
    assert differences(answer, gives, "", *tolerances) == [], check["source"]


def test_most_paints_want_45_to_90_degf_and_never_below_40_by_mil_hdbk_1110_7_4_1():
    expected = outside()["air.rule.range"]["expected"]
    ours = (surface.PAINT_MIN_C, surface.PAINT_MAX_C, surface.NEVER_BELOW_C)
    theirs = (expected["min_C"], expected["max_C"], expected["not_if_falls_below_C"])
    assert ours == pytest.approx(theirs, abs=0.1)


def test_catalyst_and_promoter_are_kept_apart_by_the_us_navy_training_manual():
    assert outside()["safe.mekp.promoter"]["expected"]["block"]
    for name in ("polyester_laminating", "polyester_waxed", "vinylester", "gelcoat"):
        assert "peroxide" in OF_CLASS[name]
    assert "Never let it meet the promoter undiluted" in caution_text("peroxide", "en")


def test_two_part_polyurethane_asks_for_a_respirator_by_mil_hdbk_1110_2_3_6():
    assert outside()["safe.iso"]["expected"]["respirator"]
    assert "isocyanate" in OF_CLASS["topcoat_two_part_pu"]
    assert "respirator" in caution_text("isocyanate", "en")


def test_spraying_in_closed_spaces_asks_for_supplied_air_by_29_cfr_1915_35():
    assert outside()["safe.spray"]["expected"]["required"]
    assert "spray_mist" in OF_ACTION["spray"]
    assert "Supplied air in closed spaces" in caution_text("spray_mist", "en")


def test_closed_spaces_are_tested_first_by_the_osha_letter_on_29_cfr_1910_146():
    assert outside()["safe.lfl10"]["expected"]["pct_of_LFL"] == 10
    assert "closed_space" in OF_ACTION["work_in_closed_space"]
    assert "Have it tested" in caution_text("closed_space", "en")


def test_sanding_laminate_protects_breath_eyes_and_skin_by_the_us_navy_training_manual():
    assert outside()["safe.dust"]["expected"]["required"]
    assert "dust" in OF_ACTION["sand"]
    for word in ("lungs", "eyes", "skin", "mask", "goggles", "sleeves"):
        assert word in caution_text("dust", "en")


def test_the_outside_checks_reach_every_family_of_sums():
    reached = {all_sums()[check["sum"]["name"]].family for check in CHECKS}
    assert reached >= {"air", "heat", "film", "mix", "area"}
