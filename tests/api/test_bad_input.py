"""Bad input of every kind at every door: the problem names what is wrong, and nothing changes."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from flask import Flask
from sqlalchemy.exc import OperationalError

from tests.api.test_roles import PUSH
from tests.support.phone import REFIT, Phone
from tests.support.tables import dump
from tests.support.wires import Answer, call

NUL, LONE = "a\x00b", "a\ud800b"


@dataclass(frozen=True)
class Text:
    """A text field: needed or not, and how long at most."""

    most: int
    needed: bool = False
    may_be_empty: bool = False

    def bad(self) -> Iterator[Any]:
        yield from (7, True, ["a"], {"a": 1}, NUL, LONE, "x" * (self.most + 1))
        if not self.may_be_empty:
            yield from ("", "   ")


@dataclass(frozen=True)
class Number:
    """A number field with its limits."""

    least: float
    most: float
    needed: bool = False
    whole: bool = False

    def bad(self) -> Iterator[Any]:
        yield from ("7", True, [7], {}, self.least - 1, self.most + 1)
        if self.whole:
            yield from (1.5, 2.0)


@dataclass(frozen=True)
class Other:
    """A field of another type with examples that do not fit it."""

    examples: tuple[Any, ...]
    needed: bool = False

    def bad(self) -> Iterator[Any]:
        yield from self.examples


TIME_OF_DAY = Other((7, "7:00", "24:00", "08:60", "noon", NUL))
INSTANTS = (
    *(7, "2026-04-01", "2026-04-01T08:00:00", "2026-04-01T08:00:00+01:00"),
    *("2026-02-30T08:00:00Z", "1800-01-01T00:00:00Z", NUL),
)
YES_NO = Other((1, 0, "yes", "true", []))
WHOLE = 2**53 - 1


@dataclass(frozen=True)
class Door:
    """A door that takes JSON: where, a good body, its fields, and whether a key is needed."""

    method: str
    below: str
    good: dict[str, Any]
    fields: dict[str, Text | Number | Other]
    signed_in: bool = True
    may_be_null: frozenset[str] = field(default_factory=frozenset)

    def send(self, phone: Phone, **rest: Any) -> Answer:
        if self.below.startswith("/api/"):
            return call(phone.wire, self.method, self.below, **rest)
        key = phone.key if self.signed_in else None
        return phone.call(self.method, self.below, key=key, **rest)


DOORS = {
    "begin a refit": Door(
        "POST",
        "/api/refits",
        {**REFIT, "with_products": False},
        {
            "name": Text(120, True),
            "time_zone": Text(64, True),
            "launch_at": Other(INSTANTS, True),
            "owner_name": Text(120, True),
            "language": Text(16, True, True),
            "day_starts": TIME_OF_DAY,
            "day_ends": TIME_OF_DAY,
            "curve_min_c": Number(-40, 60),
            "curve_max_c": Number(-40, 60),
            "curve_hour_of_max": Number(0, 23.999),
            "device_name": Text(120, may_be_empty=True),
            "with_products": YES_NO,
        },
    ),
    "come back": Door(
        "POST", "/recover", {"code": "0000-0000-0000-0000-0000"},
        {"code": Text(100, True), "device_name": Text(120, may_be_empty=True)}, signed_in=False,
    ),
    "come aboard": Door(
        "POST", "/api/invites/claim", {"token": "x" * 43},
        {"token": Text(200, True), "device_name": Text(120, may_be_empty=True)},
    ),
    "invite": Door(
        "POST", "/invites", {"role": "hand", "name": "Hank"},
        {
            "role": Other(("captain", 7, "", ["hand"], NUL)),
            "name": Text(120),
            "language": Text(16, may_be_empty=True),
            "member_id": Other(("", "a b", "x" * 41, 7, NUL, "nobody-here")),
            "days": Number(1, 30, whole=True),
        },
    ),
    "take pushes": Door(
        "PUT", "/push", PUSH,
        {
            "endpoint": Other((
                7, "", "nothing", "ftp://updates.push.services.mozilla.com/x",
                "http://updates.push.services.mozilla.com/x", "https://127.0.0.1/x", "https://[::1]/x",
                "https://localhost/x", "https://example.org/x", "https://evil@updates.push.services.mozilla.com/x",
                "https://updates.push.services.mozilla.com.example.org/x", "https://updates.push.services.mozilla.com:99/x",
                "https://updates.push.services.mozilla.com/" + "x" * 2000, NUL,
            ), True),
            "p256dh": Other((7, "", "short", "!" * 87, "A" * 87, PUSH["p256dh"][:-3], NUL), True),
            "auth": Other((7, "", "short", "!" * 22, PUSH["auth"] + "AA", NUL), True),
        },
    ),
    "give a mail address": Door(
        "PUT", "/addresses/mail", {"address": "olga@yard.example"},
        {"address": Text(254, True), "with_calendar": YES_NO},
    ),
    "confirm a mail address": Door(
        "POST", "/addresses/mail/confirm", {"code": "123456"}, {"code": Text(20, True)},
    ),
    "give a webhook": Door(
        "PUT", "/addresses/webhook", {"url": "https://hooks.example/x"}, {"url": Text(2000, True)},
    ),
    "sync": Door(
        "POST", "/sync", {},
        {
            "protocol": Other((0, -1, "1", 1.0, True, None, []), True),
            "schema": Other((0, -1, "1", 1.0, True, None, []), True),
            "epoch": Other((7, "x" * 41, NUL), True),
            "device": Other((7, "", "x" * 41, NUL, None), True),
            "cursor": Number(0, WHOLE, True, whole=True),
            "operations": Other(({}, "x", 7, None), True),
        },
        may_be_null=frozenset({"epoch"}),
    ),
}  # fmt: skip


def good(door: Door, phone: Phone) -> dict[str, Any]:
    return {**phone.body(), **door.good} if door.below == "/sync" else dict(door.good)


def check(answer: Answer, status: int, name: str | None) -> None:
    """Check that an answer is a problem document that names a field."""
    assert answer.status == status, answer.content
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json
    assert problem["status"] == status
    assert problem["type"].startswith("urn:tackwatch:problem:")
    assert problem["title"]
    assert problem["detail"]
    assert problem.get("field") == name, problem


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


JSON = {"Content-Type": "application/json"}
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


OPERATION = {"n": 1, "at": "019c2f3a4b5c0000-7h2k9m3p4q5r", "act": "x", "actions": []}


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"n": 0}, "n"),
        ({"n": "1"}, "n"),
        ({"n": 1.0}, "n"),
        ({"n": None}, "n"),
        ({"n": WHOLE + 1}, "n"),
        ({"at": 7}, "at"),
        ({"at": None}, "at"),
        ({"at": "x" * 201}, "at"),
        ({"act": ["x"]}, "act"),
        ({"act": "x" * 201}, "act"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_an_operation_without_its_frame_is_named_with_its_place(
    app: Flask, owner: Phone, changes: dict[str, Any], field: str
) -> None:
    owner.record("note", {"text": "whole"})
    before = dump(app)
    body = owner.body()
    body["operations"] = [*body["operations"], {**OPERATION, "n": 2, **changes}]
    check(owner.call("POST", "/sync", body=body), 422, f"operations[1].{field}")
    assert dump(app) == before


def test_more_operations_than_a_call_may_hold_are_refused(app: Flask, owner: Phone) -> None:
    before = dump(app)
    body = {**owner.body(), "operations": [{**OPERATION, "n": n + 1} for n in range(2001)]}
    check(owner.call("POST", "/sync", body=body), 422, "operations")
    assert dump(app) == before


def test_a_later_protocol_is_told_apart_from_a_bad_body(owner: Phone) -> None:
    answer = owner.call("POST", "/sync", body={"protocol": 2, "anything": "else"})
    check(answer, 409, "protocol")
    assert answer.json["type"] == "urn:tackwatch:problem:protocol-too-new"


def test_what_a_database_cannot_keep_is_a_verdict_and_not_a_stuck_outbox(
    app: Flask, owner: Phone
) -> None:
    for text in (NUL, LONE):
        owner.record("note", {"text": text})
    owner.record("note", {"text": "behind them"})
    answer = owner.sync()
    assert answer["acknowledged_n"] == 3
    assert [one["n"] for one in answer["refused"]] == [1, 2]
    fields = {one["problem"]["field"] for one in answer["refused"]}
    assert fields == {"actions[0].body.text"}
    assert [one["body"]["text"] for one in dump(app)["record"]] == ["behind them"]


def test_the_history_takes_one_parameter_only(app: Flask, owner: Phone) -> None:
    before = dump(app)
    path = f"/history/member/{owner.member_id}"
    check(owner.call("GET", f"{path}?before=x"), 422, "before")
    check(owner.call("GET", f"{path}?after={'x' * 41}"), 422, "after")
    check(owner.call("GET", f"{path}?after=%00"), 422, "after")
    check(owner.call("GET", "/history/yacht/x"), 404, None)
    check(owner.call("GET", "/history/member/%00"), 404, None)
    check(owner.call("GET", f"/history/member/{'x' * 41}"), 404, None)
    assert dump(app) == before


def test_paths_that_do_not_exist_and_methods_that_do_not_fit_are_problems(owner: Phone) -> None:
    check(call(owner.wire, "GET", "/api/nothing"), 404, None)
    check(call(owner.wire, "GET", "/api/refits/%00/work", key=owner.key), 404, None)
    answer = call(owner.wire, "DELETE", "/api/health")
    check(answer, 405, None)
    assert {"GET", "HEAD"} <= set(answer.headers["allow"].split(", "))


def test_a_fault_of_the_server_shows_a_number_and_nothing_else(
    app: Flask, owner: Phone, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("the innards of the server")

    monkeypatch.setattr("tackwatch.api.refits.refit_at", fail)
    answer = owner.call("GET", "/work")
    check(answer, 500, None)
    assert "innards" not in answer.content.decode()
    number = answer.json["instance"].removeprefix("urn:tackwatch:request:")
    assert number == answer.headers["x-request-id"]
    logged = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    fault = next(one for one in logged if one["event"] == "unexpected error")
    assert fault["request_id"] == number
    assert "the innards of the server" in json.dumps(fault["exception"])


def test_the_account_of_a_fault_tells_no_secrets(
    app: Flask, owner: Phone, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("the innards of the server")

    token = owner.invite()
    monkeypatch.setattr("tackwatch.work.claim_invite.refits.lock", fail)
    body = {"token": token, "device_name": "what somebody wrote"}
    check(call(owner.wire, "POST", "/api/invites/claim", body=body), 500, None)
    text = capsys.readouterr().out
    assert "claim_invite" in text
    assert token not in text
    assert owner.key not in text
    assert "what somebody wrote" not in text


def test_a_database_that_is_away_is_no_verdict_and_says_when_to_come_back(
    app: Flask, owner: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise OperationalError("COMMIT", {}, OSError("database is locked"))

    owner.record("note", {"text": "kept on the phone"})
    with monkeypatch.context() as away:
        away.setattr("tackwatch.api.sync.sync", fail)
        answer = owner.exchange()
    check(answer, 503, None)
    assert answer.headers["retry-after"] == "5"
    assert owner.sync()["acknowledged_n"] == 1
