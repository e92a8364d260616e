"""Server and phone agree on each sum by name: on answers, and on the field that is refused."""

import json
import os
from collections import Counter
from random import SystemRandom

import pytest

from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.registry import all_sums, calculate, describe
from tests.vectors.trade_compare import differences
from tests.vectors.trade_twin import ask, put_away
from tests.vectors.yard_cases import YardCases

FIXED_SEED = 20260412
FAMILIES = ("air", "heat", "film", "mix", "area", "cautions")
SUMS = [describe(one) for one in all_sums().values() if one.family in FAMILIES]
N_EACH = 220


def ours(case):
    try:
        return {"output": calculate(case["fn"], case["input"])}
    except TradeError as error:
        return {"error": {"field": error.field}}


@pytest.fixture(scope="module")
def answers():
    """Ask both sides everything in one go, of fixed cases and fresh ones."""
    fresh = int(os.environ.get("TACKWATCH_SEED", SystemRandom().randrange(10**9)))
    print(f"seed {fresh}: repeat with TACKWATCH_SEED={fresh}")
    fixed, random = YardCases(FIXED_SEED), YardCases(fresh)
    cases = [
        json.loads(json.dumps(draw.case(one["name"], one["takes"])))
        for one in SUMS
        for draw, n in ((fixed, N_EACH), (random, 30))
        for _ in range(n)
    ]
    theirs = ask(cases)
    put_away()
    return [(case, ours(case), other) for case, other in zip(cases, theirs, strict=True)]


@pytest.mark.parametrize("name", [one["name"] for one in SUMS])
def test_server_and_phone_agree_on_the_sum(name, answers):
    found = [
        f"{line}\n  {case['input']}"
        for case, one, other in answers
        if case["fn"] == name
        for line in (differences(other, one) or differences(one, other))[:1]
    ]
    assert found == [], f"{len(found)} differ, first {found[0]}"


@pytest.mark.parametrize("name", [one["name"] for one in SUMS])
def test_the_cases_are_wild_enough_to_answer_and_to_refuse(name, answers):
    outcomes = Counter("output" in one for case, one, _ in answers if case["fn"] == name)
    assert outcomes[True] >= 100, outcomes
    assert outcomes[False] >= 10, outcomes


def test_every_outcome_that_has_a_name_comes_up(answers):
    seen = Counter(
        word
        for _, one, _ in answers
        for name, value in one.get("output", {}).items()
        if name in ("reasons", "basis", "level", "level_in_sun")
        for word in ([value] if isinstance(value, str) else value)
    )
    wanted = {
        *("formula", "beyond", "rule_of_thumb", "common_practice", "from_memory"),
        *("none", "caution", "extreme_caution", "danger", "extreme_danger", "beyond_chart"),
        *("below_freezing", "surface_wet", "below_5_f", "below_3_k", "dew_point_held"),
        *("too_near_now", "too_near_then", "too_cold_before_dry", "full_sun_is_harder"),
        *("colder_than_most_paints_allow", "hotter_than_most_paints_allow"),
        *("mean_too_thin", "reading_too_thin", "too_many_thin", "mean_too_thick"),
        *("reading_too_thick", "outside_preferred", "held_to_reference", "sheet_mass_unknown"),
        *("pot_too_large", "big_pot", "hot_pot", "ok", "warm", "runaway"),
        *("slope_left_out", "last_interval_by_parabola", "straight_line"),
    }
    assert sorted(wanted - seen.keys()) == []
