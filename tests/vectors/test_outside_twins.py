"""The phone gives the values of the named sources as well; they stand in fixtures/vectors/trade/outside.json."""

import pytest

from tackwatch.trade.air import dew_point_c
from tests.trade.samples import outside, recorded_hours
from tests.vectors.trade_compare import differences
from tests.vectors.trade_twin import ask, put_away

CHECKS = [check for check in outside().values() if "sum" in check]


@pytest.fixture(scope="module")
def on_the_phone():
    cases = [{"fn": check["sum"]["name"], "input": check["sum"]["given"]} for check in CHECKS]
    answers = dict(zip((check["id"] for check in CHECKS), ask(cases), strict=True))
    yield answers
    put_away()


def test_the_phone_has_the_servers_dew_point_in_every_recorded_hour_of_a_year_tmy3_723170():
    rows = recorded_hours()
    cases = [
        {"fn": "dew_point", "input": {"air_c": one.air_c, "rh_pct": one.rh_pct}} for one in rows
    ]
    found = [one["output"]["dew_point_c"] for one in ask(cases)]
    put_away()
    assert found == pytest.approx([dew_point_c(one.air_c, one.rh_pct) for one in rows], abs=1e-9)
    assert max(abs(got - one.dew_c) for got, one in zip(found, rows, strict=True)) < 0.36


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_the_phone_gives_the_value_of_the_named_source(check, on_the_phone):
    asked = check["sum"]
    gives = asked["gives"]
    expected = {"error": {"field": gives["error"]}} if "error" in gives else {"output": gives}
    tolerances = asked.get("rel", 0.0), asked.get("abs", 0.0)
    assert differences(on_the_phone[check["id"]], expected, "", *tolerances) == [], check["source"]
