import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.trade.air import dew_margin_c, dew_point_c
from tackwatch.trade.errors import OutOfRangeError
from tackwatch.trade.units import k_of_f_span
from tests.trade.samples import outside

DEW_CHECKS = ["air.dew.25C.60RH", "air.dew.10C.80RH", "air.dew.5C.90RH"]


@pytest.mark.parametrize("check_id", DEW_CHECKS)
def test_dew_point_agrees_with_psychrolib_2_5_0_and_coolprop_8_0_0(check_id):
    check = outside()[check_id]
    got_c = dew_point_c(check["inputs"]["T_C"], check["inputs"]["RH_pct"])
    assert got_c == pytest.approx(check["expected"]["Td_C"], abs=check["tolerance"]["abs"])


@settings(deadline=None)
@given(air_c=st.floats(5.0, 45.0), rh_pct=st.floats(35.0, 100.0))
def test_dew_point_agrees_with_psychrolib_over_the_yard_s_weather(air_c, rh_pct):
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs_c = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100.0)
    if theirs_c > 0.0:  # below, psychrolib turns to ice
        assert dew_point_c(air_c, rh_pct) == pytest.approx(theirs_c, abs=0.05)


def test_margin_is_too_small_by_the_five_fahrenheit_rule_of_mil_hdbk_1110():
    check = outside()["air.rule.5F"]
    need_c = check["inputs"]["Td_C"] + k_of_f_span(5.0)
    assert need_c == pytest.approx(
        check["expected"]["need_surface_C"], abs=check["tolerance"]["abs"]
    )
    assert (check["inputs"]["surface_C"] >= need_c) is check["expected"]["ok_5F"]


def test_margin_between_the_two_rules_passes_one_and_fails_the_other_from_memory():
    check = outside()["air.rule.3K"]
    rh_pct = 60.0
    air_c = 21.3  # its dew point at 60 % is near 13.3 degC
    surface_c = dew_point_c(air_c, rh_pct) + check["inputs"]["surface_C"] - check["inputs"]["Td_C"]
    margin_k = dew_margin_c(surface_c, air_c, rh_pct)
    assert (margin_k >= 3.0) is check["expected"]["ok_3K"]
    assert (margin_k >= k_of_f_span(5.0)) is check["expected"]["ok_5F"]


def test_saturated_air_has_its_own_temperature_as_dew_point():
    assert dew_point_c(14.0, 100.0) == pytest.approx(14.0, abs=1e-9)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "field"),
    [
        (61.0, 50.0, "air_c"),
        (-46.0, 50.0, "air_c"),
        (float("nan"), 50.0, "air_c"),
        (20.0, 0.0, "rh_pct"),
        (20.0, 100.5, "rh_pct"),
        (20.0, float("nan"), "rh_pct"),
    ],
)
def test_values_outside_the_formula_are_refused_by_name(air_c, rh_pct, field):
    with pytest.raises(OutOfRangeError) as caught:
        dew_point_c(air_c, rh_pct)
    assert caught.value.field == field
