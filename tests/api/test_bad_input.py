"""Bad input of every kind at every door: the problem names what is wrong, and nothing changes."""

from __future__ import annotations

import gzip
import json

import pytest
from flask import Flask

from tests.api.bad_doors import DOORS, JSON, Door, check, good
from tests.support.phone import REFIT, Phone
from tests.support.tables import dump
from tests.support.wires import call


@pytest.fixture(params=DOORS)
def door(request: pytest.FixtureRequest) -> Door:
    return DOORS[request.param]


def test_a_missing_field_is_named(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    for name, kind in door.fields.items():
        if kind.needed:
            body = good(door, owner)
            del body[name]
            check(door.send(owner, body=body), 422, name)
    assert dump(app) == before


def test_a_value_that_does_not_fit_is_named(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    for name, kind in door.fields.items():
        for value in kind.bad():
            check(door.send(owner, body={**good(door, owner), name: value}), 422, name)
    assert dump(app) == before


def test_null_is_named(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    for name in door.fields.keys() - door.may_be_null:
        check(door.send(owner, body={**good(door, owner), name: None}), 422, name)
    assert dump(app) == before


def test_an_unknown_field_is_named(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    check(door.send(owner, body={**good(door, owner), "colour": "red"}), 422, "colour")
    assert dump(app) == before


def test_several_faults_are_all_named(app: Flask, owner: Phone, door: Door) -> None:
    body = {**good(door, owner), "colour": "red"}
    first = next(iter(door.fields))
    answer = door.send(owner, body={**body, first: {"not": "this"}})
    assert answer.status == 422
    assert {one["field"] for one in answer.json["errors"]} == {first, "colour"}


BAD_JSON = {
    "empty": b"",
    "cut": b'{"name": "Wand',
    "trailing": b'{"a": 1} x',
    "single quotes": b"{'a': 1}",
    "not a number": b'{"a": NaN}',
    "infinity": b'{"a": -Infinity}',
    "too large a number": b'{"a": 1e999}',
    "endless digits": b'{"a": ' + b"9" * 5000 + b"}",
    "not UTF-8": b'{"a": "\xff"}',
    "UTF-16": '{"a": 1}'.encode("utf-16"),
    "deep": b'{"a":' * 45 + b"1" + b"}" * 45,
    "very deep": b"[" * 200_000,
}


def test_what_is_not_json_is_refused(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    for content in BAD_JSON.values():
        check(door.send(owner, content=content, headers=JSON), 400, "body")
    assert dump(app) == before


def test_json_that_is_no_object_is_refused(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    for content in (b"[]", b"[{}]", b'"text"', b"7", b"null", b"true"):
        check(door.send(owner, content=content, headers=JSON), 422, "body")
    assert dump(app) == before


@pytest.mark.parametrize(
    "media_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", None]
)
def test_another_type_of_body_is_refused(
    app: Flask, owner: Phone, door: Door, media_type: str | None
) -> None:
    before = dump(app)
    content = json.dumps(good(door, owner)).encode()
    headers = {} if media_type is None else {"Content-Type": media_type}
    check(door.send(owner, content=content, headers=headers), 415, "content-type")
    assert dump(app) == before


def test_a_huge_body_is_refused(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    content = json.dumps({**good(door, owner), "colour": "x" * (8 * 1024 * 1024)}).encode()
    check(door.send(owner, content=content, headers=JSON), 413, "body")
    assert dump(app) == before


def test_a_body_that_unpacks_hugely_is_refused(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    content = b'{"colour": "' + b"x" * (64 * 1024 * 1024) + b'"}'
    check(door.send(owner, content=content, headers=JSON, packed=True), 413, "body")
    assert dump(app) == before


def test_bad_packing_is_refused(app: Flask, owner: Phone, door: Door) -> None:
    before = dump(app)
    packed = gzip.compress(json.dumps(good(door, owner)).encode())
    headers = {**JSON, "Content-Encoding": "gzip"}
    for content in (b"", b"no gzip", packed[:-1], packed[:20], packed + b"x", packed + packed):
        check(door.send(owner, content=content, headers=headers), 400, "body")
    headers = {**JSON, "Content-Encoding": "br"}
    check(door.send(owner, content=packed, headers=headers), 415, "content-encoding")
    assert dump(app) == before


def test_a_key_that_stands_twice_counts_as_its_last(owner: Phone) -> None:
    content = b'{"role": "captain", "name": "Hank", "role": "hand"}'
    assert owner.call("POST", "/invites", content=content, headers=JSON).status == 201


def test_a_time_zone_that_does_not_exist_is_named(app: Flask, owner: Phone) -> None:
    before = dump(app)
    for zone in ("Mars/Phobos", "../etc/passwd", "/etc/localtime", "Europe", "europe//lisbon"):
        answer = call(owner.wire, "POST", "/api/refits", body={**REFIT, "time_zone": zone})
        check(answer, 422, "time_zone")
    assert dump(app) == before


def test_temperatures_the_wrong_way_round_are_named(app: Flask, owner: Phone) -> None:
    before = dump(app)
    body = {**REFIT, "curve_min_c": 20, "curve_max_c": 10}
    check(call(owner.wire, "POST", "/api/refits", body=body), 422, "curve_max_c")
    assert dump(app) == before
