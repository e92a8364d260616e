"""The sums of the trade at their doors and on the command line."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from tackwatch.api.trade import MOST_BYTES
from tackwatch.cli import main
from tackwatch.trade.sums.registry import all_sums, calculate
from tests.support.wires import ClientWire, call
from tests.trade.samples import outside

CHECKS = {
    check["sum"]["name"]: check
    for check in outside().values()
    if "sum" in check and "error" not in check["sum"]["gives"]
}


def ask(wire: ClientWire, name: str, given: Any) -> Any:
    return call(wire, "POST", f"/api/trade/{name}", body=given)


def calc(*arguments: str, stdin: str = "") -> tuple[int, str]:
    result = CliRunner().invoke(main, ["calc", *arguments], input=stdin)
    return result.exit_code, result.output


def test_the_list_names_every_sum_with_its_schemas_and_source(wire: ClientWire) -> None:
    """Source of the schemas' form: JSON Schema 2020-12 as the package jsonschema checks it."""
    answer = call(wire, "GET", "/api/trade")
    assert answer.status == 200
    assert [one["name"] for one in answer.json["sums"]] == list(all_sums())
    for one in answer.json["sums"]:
        assert one["about"]
        assert one["source"]
        Draft202012Validator.check_schema(one["takes"])
        Draft202012Validator.check_schema(one["gives"])


@pytest.mark.parametrize("name", sorted(CHECKS))
def test_door_and_command_give_the_values_of_the_named_source(wire: ClientWire, name: str) -> None:
    """Each source stands beside its value in fixtures/vectors/trade/outside.json."""
    asked = CHECKS[name]["sum"]
    answer = ask(wire, name, asked["given"])
    assert answer.status == 200
    status, text = calc(name, json.dumps(asked["given"]))
    assert status == 0
    assert json.loads(text) == answer.json == calculate(name, asked["given"])
    described = {one["name"]: one for one in call(wire, "GET", "/api/trade").json["sums"]}[name]
    assert Draft202012Validator(described["takes"]).is_valid(asked["given"])
    assert list(Draft202012Validator(described["gives"]).iter_errors(answer.json)) == []


@pytest.mark.parametrize(
    ("given", "status", "field"),
    [
        ({"air_c": 25}, 422, "rh_pct"),
        ({"air_c": 25, "rh_pct": 60, "colour": 1}, 422, "colour"),
        ({"air_c": 25, "rh_pct": "60"}, 422, "rh_pct"),
        ({"air_c": 25, "rh_pct": True}, 422, "rh_pct"),
        ({"air_c": 25, "rh_pct": 0}, 422, "rh_pct"),
        ({"air_c": 61, "rh_pct": 60}, 422, "air_c"),
        ([], 422, "body"),
        ("dew", 422, "body"),
    ],
)
def test_what_cannot_be_used_is_named_in_a_problem_and_in_one_line(
    wire: ClientWire, given: Any, status: int, field: str
) -> None:
    answer = ask(wire, "dew_point", given)
    assert (answer.status, answer.json["field"]) == (status, field)
    assert answer.headers["content-type"] == "application/problem+json"
    code, text = calc("dew_point", json.dumps(given))
    assert code == 1
    assert text.startswith(f"Error: {'input' if field == 'body' else field}: ")
    assert text.count("\n") == 1


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_no_number_is_refused_before_it_is_reckoned_with(wire: ClientWire, number: str) -> None:
    text = f'{{"air_c": {number}, "rh_pct": 60}}'
    headers = {"Content-Type": "application/json"}
    answer = call(wire, "POST", "/api/trade/dew_point", content=text.encode(), headers=headers)
    assert (answer.status, answer.json["field"]) == (400, "body")
    assert calc("dew_point", text)[0] == 1


def test_an_unknown_sum_is_not_found(wire: ClientWire) -> None:
    answer = ask(wire, "philosophers_stone", {})
    assert answer.status == 404
    assert answer.json["type"] == "urn:tackwatch:problem:no-such-sum"
    assert calc("philosophers_stone", "{}")[0] == 1


def test_a_body_past_the_limit_is_not_read(wire: ClientWire) -> None:
    padding = " " * (MOST_BYTES - 100)
    fits = f'{{"air_c": 25, "rh_pct": 60{padding}}}'.encode()
    headers = {"Content-Type": "application/json"}
    at = "/api/trade/dew_point"
    assert call(wire, "POST", at, content=fits, headers=headers).status == 200
    assert call(wire, "POST", at, content=fits + b" " * 200, headers=headers).status == 413


def test_a_body_that_is_not_json_is_refused(wire: ClientWire) -> None:
    plain = {"Content-Type": "text/plain"}
    assert call(wire, "POST", "/api/trade/dew_point", content=b"{}", headers=plain).status == 415


def test_the_document_describes_what_each_sum_takes_and_gives(wire: ClientWire) -> None:
    document = call(wire, "GET", "/api/openapi.json").json
    operation = document["paths"]["/api/trade/{name}"]["post"]
    bodies = operation["requestBody"]["content"]["application/json"]["schema"]["anyOf"]
    answers = operation["responses"]["200"]["content"]["application/json"]["schema"]["anyOf"]
    assert len(bodies) == len(answers) == len(all_sums())
    schemas = document["components"]["schemas"]
    assert {"$ref": "#/components/schemas/DewPointTakes"} in bodies
    assert schemas["DewPointTakes"]["properties"]["air_c"]["unit"] == "degC"
    assert schemas["DewPointTakes"]["additionalProperties"] is False
    assert set(schemas["DewPointGives"]["properties"]) == {"dew_point_c"}


def test_the_command_lists_describes_and_reads_from_standard_input() -> None:
    status, text = calc()
    assert status == 0
    assert [line.split()[0] for line in text.splitlines()] == list(all_sums())
    status, text = calc("dew_point")
    assert json.loads(text)["takes"]["required"] == ["air_c", "rh_pct"]
    status, text = calc("dew_point", "-", stdin='{"air_c": 14, "rh_pct": 100}')
    assert (status, json.loads(text)["dew_point_c"]) == (0, pytest.approx(14.0))
    assert calc("dew_point", "{")[0] == 1
