"""The shared vectors of the clock sums, on the server and on the phone."""

import json
from pathlib import Path

import pytest

from tackwatch.trade.sums.registry import all_sums
from tests.vectors.trade_compare import differences
from tests.vectors.trade_sums import FUNCTIONS, answer
from tests.vectors.trade_twin import ask, put_away

FOLDER = Path(__file__).parents[2] / "fixtures" / "vectors" / "trade"
VECTORS = [
    (f"{path.stem}.{vector['id']}", vector)
    for path in sorted(FOLDER.glob("*.json"))
    if path.stem != "outside"
    for vector in json.loads(path.read_text())
]
CASES = [{"fn": vector["fn"], "input": vector["inputs"]} for _, vector in VECTORS]


@pytest.fixture(scope="module")
def on_the_phone():
    answers = dict(zip((name for name, _ in VECTORS), ask(CASES), strict=True))
    yield answers
    put_away()


def wrong(got, vector):
    """Give where an answer differs from the vector, within the vector's own tolerance."""
    expected = vector["expected"]
    if not (isinstance(expected, dict) and "error" in expected):
        expected = {"output": expected}
    return differences(got, expected, "", vector.get("rel", 1e-9), vector.get("abs", 1e-9))


@pytest.mark.parametrize(("name", "vector"), VECTORS, ids=[name for name, _ in VECTORS])
def test_the_server_gives_what_the_vector_expects(name, vector):
    assert vector["source"]
    assert wrong(answer({"fn": vector["fn"], "input": vector["inputs"]}), vector) == []


@pytest.mark.parametrize(("name", "vector"), VECTORS, ids=[name for name, _ in VECTORS])
def test_the_phone_gives_what_the_vector_expects(name, vector, on_the_phone):
    assert wrong(on_the_phone[name], vector) == []


def test_every_sum_has_a_vector_but_the_track_which_the_random_cases_cover():
    assert set(FUNCTIONS) - {vector["fn"] for _, vector in VECTORS} == {"track_of"}


@pytest.mark.parametrize("family", sorted({one.family for one in all_sums().values()}))
def test_every_sum_of_a_family_has_a_vector(family):
    named = {name for name, one in all_sums().items() if one.family == family}
    assert named
    assert named <= {vector["fn"] for _, vector in VECTORS}


def test_a_second_s_difference_fails_and_less_does_not():
    noon = {"at": "2026-04-10T12:00:00.000Z", "n": 1.0, "stale": False}
    assert differences({**noon, "at": "2026-04-10T12:00:00.999Z"}, noon) == []
    assert differences({**noon, "at": "2026-04-10T12:00:01.000Z"}, noon) != []
    assert differences({**noon, "n": 1.000001}, noon) != []
    assert differences({**noon, "stale": 0}, noon) != []
    assert differences({**noon, "at": None}, noon) != []
    assert differences([noon], [noon, noon]) != []
