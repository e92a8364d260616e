"""The register of the sums, and how strictly it reads."""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Literal

import pytest
from jsonschema import Draft202012Validator

from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.sums.reading import read
from tackwatch.trade.sums.registry import all_sums, calculate, describe, sum_named
from tackwatch.trade.sums.schema import as_json, schema_of
from tackwatch.trade.sums.sum import note, quantity, several

SUMS = sorted(all_sums())


@dataclass(frozen=True, slots=True)
class Leg:
    length_m: float = field(metadata=quantity("m", "Length", above=0.0, most=10.0))


@dataclass(frozen=True, slots=True)
class Table:
    legs: tuple[Leg, ...] = field(metadata=note("Legs", fewest=1, at_most=4))
    n_seats: int = field(metadata=quantity("1", "Seats", least=0.0))
    heights_m: tuple[float, ...] = field(
        metadata=several(quantity("m", "Height", least=0.0, below=3.0), "Heights", at_most=3)
    )
    wood: Literal["oak", "pine"] | None = field(default=None, metadata=note("Wood"))
    painted: bool = field(default=False, metadata=note("Painted?"))
    made_at: datetime | None = field(default=None, metadata=note("When it was made"))


GOOD = {"legs": [{"length_m": 1}], "n_seats": 4.0, "heights_m": [0.5]}


def test_a_record_is_read_with_its_defaults_and_written_back():
    table = read(Table, {**GOOD, "wood": "oak", "made_at": "2026-04-10T14:00:00+02:00"})
    assert table == Table(
        (Leg(1.0),), 4, (0.5,), "oak", False, datetime(2026, 4, 10, 12, tzinfo=UTC)
    )
    assert as_json(table)["made_at"] == "2026-04-10T12:00:00.000Z"
    assert read(Table, as_json(table)) == table


@pytest.mark.parametrize(
    ("change", "field", "kind"),
    [
        ({"colour": "red"}, "colour", TradeError),
        ({"legs": []}, "legs", OutOfRangeError),
        ({"legs": {}}, "legs", TradeError),
        ({"legs": [{"length_m": 1}, {"length_m": 0}]}, "legs[1].length_m", OutOfRangeError),
        ({"legs": [{"length_m": 10.1}]}, "legs[0].length_m", OutOfRangeError),
        ({"legs": [{}]}, "legs[0].length_m", TradeError),
        ({"legs": [{"length_m": 1, "x": 2}]}, "legs[0].x", TradeError),
        ({"legs": [3]}, "legs[0]", TradeError),
        ({"n_seats": 2.5}, "n_seats", TradeError),
        ({"n_seats": None}, "n_seats", TradeError),
        ({"n_seats": "2"}, "n_seats", TradeError),
        ({"n_seats": True}, "n_seats", TradeError),
        ({"n_seats": float("nan")}, "n_seats", OutOfRangeError),
        ({"n_seats": float("inf")}, "n_seats", OutOfRangeError),
        ({"n_seats": 10**400}, "n_seats", OutOfRangeError),
        ({"n_seats": -1}, "n_seats", OutOfRangeError),
        ({"heights_m": [1, 3]}, "heights_m[1]", OutOfRangeError),
        ({"heights_m": [1, 1, 1, 1]}, "heights_m", OutOfRangeError),
        ({"wood": "ash"}, "wood", TradeError),
        ({"wood": ["oak"]}, "wood", TradeError),
        ({"painted": 1}, "painted", TradeError),
        ({"made_at": "2026-04-10T14:00:00"}, "made_at", TradeError),
        ({"made_at": "yesterday"}, "made_at", TradeError),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_path(change, field, kind):
    with pytest.raises(kind) as caught:
        read(Table, {**GOOD, **change})
    assert caught.value.field == field


@pytest.mark.parametrize("data", [None, 3, [], "x"])
def test_what_is_no_object_is_refused(data):
    with pytest.raises(TradeError) as caught:
        read(Table, data)
    assert caught.value.field == "input"


def test_the_schema_says_what_the_reader_does_by_jsonschema():
    validator = Draft202012Validator(schema_of(Table))
    assert validator.is_valid(GOOD)
    assert validator.is_valid({**GOOD, "wood": None, "made_at": None})
    for change in (
        {"colour": "red"},
        {"legs": []},
        {"legs": [{"length_m": 0}]},
        {"n_seats": 2.5},
        {"n_seats": None},
        {"heights_m": [3.0]},
        {"wood": "ash"},
        {"painted": None},
    ):
        assert not validator.is_valid({**GOOD, **change}), change


def test_an_unknown_sum_is_refused_by_name():
    with pytest.raises(TradeError) as caught:
        calculate("philosophers_stone", {})
    assert caught.value.field == "name"


@pytest.mark.parametrize("name", SUMS)
def test_each_sum_describes_itself(name):
    one = describe(sum_named(name))
    assert one["name"] == name
    assert one["about"].endswith(".")
    assert one["source"]
    for side in ("takes", "gives"):
        Draft202012Validator.check_schema(one[side])
        for field_name, about in one[side]["properties"].items():
            assert about["description"], field_name


def test_dew_point_answers_by_name():
    answer = calculate("dew_point", {"air_c": 25, "rh_pct": 60})
    assert answer == {"dew_point_c": pytest.approx(16.7, abs=0.05)}
