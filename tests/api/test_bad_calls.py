"""Bad operations, parameters and paths, and faults of the server: each is a problem, and nothing changes."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask import Flask
from sqlalchemy.exc import OperationalError

from tests.api.bad_doors import LONE, NUL, WHOLE, check
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.wires import call

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
