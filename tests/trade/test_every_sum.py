"""What must hold of every sum of the register, whatever family it is of, and of the units that it is told in."""

import json
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tackwatch.trade import units
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.registry import all_sums, calculate, describe
from tests.trade.test_sum_properties import FAMILIES, attempt
from tests.vectors.sum_cases import SumCases

quickly = partial(settings, deadline=None, max_examples=60)
SUMS = [describe(one) for one in all_sums().values() if one.family not in FAMILIES]
IDS = [one["name"] for one in SUMS]
BOUNDS = {"minimum": -1.0, "exclusiveMinimum": -1.0, "maximum": 1.0, "exclusiveMaximum": 1.0}


def numbers_in(schema, path=()):
    """Give the path and the schema of every number that a sum takes, those of rows as well."""
    for name, field in schema.get("properties", {}).items():
        row = field.get("items", {})
        if "properties" in row:
            yield from numbers_in(row, (*path, name, 0))
        elif "properties" in field:
            yield from numbers_in(field, (*path, name))
        elif set(BOUNDS) & set(field):
            yield (*path, name), field


def put(data, path, value):
    """Give a copy with one value changed, None where the way there is not given."""
    copy = json.loads(json.dumps(data))
    at = copy
    for step in path[:-1]:
        if (isinstance(step, int) and len(at) <= step) or (
            isinstance(step, str) and not at.get(step)
        ):
            return None
        at = at[step]
    at[path[-1]] = value
    return copy


def named(path):
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)[1:]


@pytest.mark.parametrize("one", SUMS, ids=IDS)
def test_no_answer_is_nan_and_each_fits_its_schema(one):
    """Source of the check: the package jsonschema (JSON Schema 2020-12)."""
    draw = SumCases(20260414)
    gives = Draft202012Validator(one["gives"])
    answered = 0
    for _ in range(80):
        answer, refused_for = attempt(one["name"], draw.case(one["name"])["input"])
        assert answer is not None or refused_for
        if answer is not None:
            answered += 1
            assert list(gives.iter_errors(answer)) == []
    assert answered >= 20


@pytest.mark.parametrize("one", SUMS, ids=IDS)
def test_beyond_the_ends_of_a_range_the_field_is_named_those_of_rows_as_well(one):
    draw = SumCases(20260415)
    cases = [draw.case(one["name"])["input"] for _ in range(60)]
    good = [case for case in cases if attempt(one["name"], case)[1] is None]
    for path, field in numbers_in(one["takes"]):
        for bound, outward in BOUNDS.items():
            if bound not in field:
                continue
            tried = [put(case, path, field[bound] + outward) for case in good]
            wrong = next(case for case in tried if case is not None)
            with pytest.raises(TradeError) as caught:
                calculate(one["name"], wrong)
            assert caught.value.field == named(path)


@quickly()
@given(value=st.floats(-200.0, 5000.0))
def test_units_come_back_from_there_and_back(value):
    assert units.f_of_c(units.c_of_f(value)) == pytest.approx(value, abs=1e-9)
    assert units.c_of_f(units.f_of_c(value)) == pytest.approx(value, abs=1e-9)
    assert units.um_of_mil(value) / units.UM_PER_MIL == pytest.approx(value)
    span_k = units.c_of_f(value + 9.0) - units.c_of_f(value)
    assert units.k_of_f_span(9.0) == pytest.approx(span_k, abs=1e-9)


@quickly()
@given(dry_um=st.floats(5.0, 2000.0), more_um=st.floats(1.0, 500.0), solids=st.floats(5.0, 100.0))
def test_thicker_never_takes_less_paint_nor_more_coats(dry_um, more_um, solids):
    paint = {"area_m2": 20.0, "solids_by_volume_pct": solids, "method": "roller"}
    thin, thick = (
        calculate("paint_needed", {**paint, "dry_film_um": um}) for um in (dry_um, dry_um + more_um)
    )
    assert thin["order_l"] < thick["order_l"]
    coats = [
        calculate("coats_to_thickness", {"total_film_um": 3000.0, "film_per_coat_um": um})["coats"]
        for um in (dry_um, dry_um + more_um)
    ]
    assert coats[1] <= coats[0]


@quickly()
@given(length_m=st.floats(2.0, 30.0), beam_m=st.floats(0.5, 8.0), draft_m=st.floats(0.2, 4.0))
def test_four_hulls_are_twice_two(length_m, beam_m, draft_m):
    hull = {"part": "bottom_multihull", "length_m": length_m, "beam_m": beam_m, "draft_m": draft_m}
    two, four = (calculate("hull_rule_of_thumb", {**hull, "hulls": n})["area_m2"] for n in (2, 4))
    assert four == pytest.approx(2.0 * two)
