"""The OpenAPI document: valid, complete, and true."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask import Flask
from openapi_spec_validator import OpenAPIV31SpecValidator

from tests.support.phone import Phone
from tests.support.wires import ClientWire, call

WITHOUT_KEY = {
    ("get", "/api/health"),
    ("get", "/api/catalogue"),
    ("get", "/api/profiles"),
    ("get", "/api/push-key"),
    ("get", "/api/trade"),
    ("post", "/api/trade/{name}"),
    ("post", "/api/refits"),
    ("post", "/api/invites/claim"),
    ("post", "/api/refits/{refit_id}/recover"),
    ("get", "/api/calendar/{token}.ics"),
}


@pytest.fixture
def document(wire: ClientWire) -> Any:
    return call(wire, "GET", "/api/openapi.json").json


def operations(document: Any) -> dict[tuple[str, str], Any]:
    return {
        (method, path): operation
        for path, entry in document["paths"].items()
        for method, operation in entry.items()
        if method in ("get", "post", "put", "delete", "patch")
    }


def test_the_document_is_valid_openapi_3_1(document: Any) -> None:
    """Source: the JSON schema of OpenAPI 3.1 as the package openapi-spec-validator carries it."""
    assert document["openapi"] == "3.1.0"
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) == []


def test_the_document_lists_every_door_and_no_other(app: Flask, document: Any) -> None:
    doors = {
        (method.lower(), re.sub(r"<(\w+)>", r"{\1}", rule.rule))
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if rule.rule.startswith("/api/") and rule.rule != "/api/openapi.json"
    }
    assert doors == operations(document).keys()
    assert len(doors) > 15


def test_every_door_says_whether_it_needs_a_key(document: Any) -> None:
    scheme = document["components"]["securitySchemes"]["device_key"]
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")
    for door, operation in operations(document).items():
        assert operation["security"] == ([] if door in WITHOUT_KEY else [{"device_key": []}])


def test_what_the_document_says_about_keys_is_true(document: Any, owner: Phone) -> None:
    for method, path in operations(document):
        filled = re.sub(r"\{\w+\}", "x", path.replace("{refit_id}", owner.refit_id))
        status = call(owner.wire, method.upper(), filled).status
        assert (status == 401) == ((method, path) not in WITHOUT_KEY)


def test_every_door_describes_its_problems(document: Any) -> None:
    for (method, path), operation in operations(document).items():
        assert operation["summary"]
        statuses = {code for code in operation["responses"] if code.startswith(("4", "d"))}
        assert "default" in statuses
        if (method, path) not in WITHOUT_KEY:
            assert {"401", "404"} <= statuses
        if "requestBody" in operation:
            assert {"400", "413", "415", "422"} <= statuses
    problems = document["components"]["responses"]
    for name, response in problems.items():
        assert list(response["content"]) == ["application/problem+json"], name
    fields = document["components"]["schemas"]["Problem"]["properties"]
    assert {"type", "title", "status", "detail", "field"} <= fields.keys()


def test_limits_of_the_catalogue_stand_in_the_document(document: Any) -> None:
    asked = document["components"]["schemas"]["RefitAsked"]
    assert asked["properties"]["name"]["maxLength"] == 120
    assert asked["properties"]["curve_max_c"]["maximum"] == 60
    assert set(asked["required"]) == {"name", "time_zone", "launch_at", "owner_name", "language"}
    invite = document["components"]["schemas"]["InviteAsked"]
    assert invite["properties"]["role"]["enum"] == ["owner", "hand", "viewer"]


def test_examples_of_answers_fit_the_document(document: Any, owner: Phone) -> None:
    """Answers are checked against their schemas by the package jsonschema (JSON Schema 2020-12)."""
    from jsonschema import Draft202012Validator

    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Hank"})
    owner.create("zone", {"name": "Deck"})
    examples = {
        ("get", "/api/health"): call(owner.wire, "GET", "/api/health"),
        ("get", "/api/catalogue"): call(owner.wire, "GET", "/api/catalogue"),
        ("get", "/api/profiles"): call(owner.wire, "GET", "/api/profiles"),
        ("get", "/api/push-key"): call(owner.wire, "GET", "/api/push-key"),
        ("post", "/api/refits/{refit_id}/invites"): made,
        ("get", "/api/refits/{refit_id}/invites"): owner.call("GET", "/invites"),
        ("post", "/api/refits/{refit_id}/sync"): owner.exchange(),
        ("get", "/api/refits/{refit_id}/work"): owner.call("GET", "/work"),
        ("get", "/api/refits/{refit_id}/alarms"): owner.call("GET", "/alarms"),
    }
    for door, answer in examples.items():
        response = operations(document)[door]["responses"][str(answer.status)]
        schema = {
            **response["content"]["application/json"]["schema"],
            "components": document["components"],
        }
        assert list(Draft202012Validator(schema).iter_errors(answer.json)) == [], door
    problem = owner.call("POST", "/invites", body={"role": "captain", "colour": "red"}).json
    schema = {"$ref": "#/components/schemas/Problem", "components": document["components"]}
    assert list(Draft202012Validator(schema).iter_errors(problem)) == []
