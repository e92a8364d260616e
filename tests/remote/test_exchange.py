"""A device exchanges with a live server, with all that may go wrong on the way."""

from __future__ import annotations

import gzip
import json

import pytest
from flask import Flask
from sqlalchemy import update
from werkzeug.wrappers import Request, Response

from tackwatch.remote import exchange as exchange_module
from tackwatch.remote.copy import Copy
from tackwatch.remote.errors import (
    InputError,
    KeyRefusedError,
    LaterError,
    VersionsError,
)
from tackwatch.remote.exchange import exchange
from tackwatch.remote.readings import log_reading
from tackwatch.store.db import db
from tackwatch.store.models import Refit
from tackwatch.work import sync as sync_module
from tests.remote.conftest import Aboard
from tests.remote.rows import readings, zone, zones
from tests.support.door import Door
from tests.support.phone import Phone


def test_what_is_written_without_a_server_waits_and_goes_the_next_time(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    copy = aboard()
    copy.change(server="http://127.0.0.1:1")
    log_reading(copy, {"air_c": 14.5})
    with pytest.raises(LaterError, match="cannot be reached"):
        exchange(copy)
    log_reading(copy, {"air_c": 15})
    assert [one.n for one in copy.operations("waiting")] == [1, 2]
    assert len(copy.rows("reading")) == 2, "shown here at once"
    copy.change(server=door.address)
    exchange(copy)
    assert copy.operations("waiting") == []
    assert readings(owner) == [14.5, 15]
    assert len(copy.rows("reading")) == 2, "no echo comes, and none is needed"


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({}, "air_c"),
        ({"air_c": 71}, "air_c"),
        ({"air_c": "warm"}, "air_c"),
        ({"rh_pct": 50, "taken_at": "today"}, "taken_at"),
        ({"rh_pct": 50, "taken_at": "2026-03-02T08:00:00"}, "taken_at"),
        ({"rh_pct": 50, "taken_at": "0001-01-01T00:00:00+14:00"}, "taken_at"),
        ({"rh_pct": 50, "zone": "Mast"}, "zone"),
        ({"rh_pct": 50, "colour": "red"}, "colour"),
    ],
)
def test_a_reading_that_cannot_be_used_is_named_and_not_written(
    aboard: Aboard, given: dict[str, object], field: str
) -> None:
    copy = aboard()
    with pytest.raises(InputError) as refused:
        log_reading(copy, given)
    assert refused.value.field == field
    assert copy.operations("waiting") == []
    assert copy.meta().next_n == 1


def test_a_reading_is_put_in_its_zone_by_name_even_one_that_still_waits(
    aboard: Aboard, owner: Phone
) -> None:
    copy = aboard()
    copy.act("create_zone", zone("Keel", "z1"))
    log_reading(copy, {"surface_c": 9, "zone": "Keel", "taken_at": "2026-03-02T09:00:00+01:00"})
    exchange(copy)
    owner.sync()
    (found,) = owner.state.records.values()
    assert dict(found.body) == {
        "taken_at": "2026-03-02T08:00:00.000Z", "surface_c": 9, "zone_id": "z1",
    }  # fmt: skip


def test_no_failure_of_the_call_is_a_verdict(aboard: Aboard, owner: Phone, door: Door) -> None:
    copy = aboard()
    log_reading(copy, {"air_c": 3})
    waits = {"Retry-After": "7"}
    for answer, wait_s in (
        (Response("", 429, waits), 7.0),
        (Response('{"type": "urn:tackwatch:problem:busy", "detail": "Busy."}', 503, waits), 7.0),
        (Response("", 500), 0.0),
        (Response("<html>pay here</html>", 200), 0.0),
        (Response('{"epoch": "x", "acknowl', 200), 0.0),
        (Response("[]", 200), 0.0),
        (Response("", 302, {"Location": "http://127.0.0.1:1/pay"}), 0.0),
        (Response('{"type": "urn:tackwatch:problem:unknown-refit", "detail": "No."}', 404), 0.0),
    ):
        door.before = lambda _, answer=answer: answer
        with pytest.raises(LaterError) as later:
            exchange(copy)
        assert later.value.wait_s == wait_s
        assert [one.n for one in copy.operations("waiting")] == [1]
    door.before = lambda _: None
    exchange(copy)
    assert readings(owner) == [3]


def test_a_key_that_was_withdrawn_keeps_all_that_waits_and_can_still_be_written_under(
    aboard: Aboard, owner: Phone
) -> None:
    copy = aboard()
    log_reading(copy, {"air_c": 3})
    owner.call("DELETE", f"/devices/{copy.meta().device_id}")
    with pytest.raises(KeyRefusedError):
        exchange(copy)
    log_reading(copy, {"air_c": 4})
    assert [one.n for one in copy.operations("waiting")] == [1, 2]
    assert len(copy.rows("reading")) == 2
    assert readings(owner) == []


def test_versions_that_do_not_fit_say_who_has_to_be_updated(
    aboard: Aboard, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = aboard()
    log_reading(copy, {"air_c": 3})
    monkeypatch.setattr(exchange_module, "SCHEMA", 99)
    with pytest.raises(VersionsError, match="server has to be updated"):
        exchange(copy)
    assert len(copy.operations("waiting")) == 1


def test_a_verdict_is_kept_with_its_words_also_when_its_answer_was_lost(
    aboard: Aboard, door: Door
) -> None:
    copy = aboard("viewer")
    copy.act("log_note", [_note("may a viewer write this?")])
    lost = iter([True])
    door.lose = lambda _: next(lost, False)
    with pytest.raises(LaterError):
        exchange(copy)
    copy.act("log_note", [_note("or this?")])
    exchange(copy)
    refused = copy.operations("refused")
    assert [one.n for one in refused] == [1, 2]
    assert refused[0].problem is not None
    assert refused[0].problem["type"].endswith("not-allowed")
    assert refused[0].actions[0]["body"]["text"] == "may a viewer write this?"
    assert copy.operations("waiting") == []


def test_an_answer_lost_at_any_request_loses_and_doubles_nothing(
    aboard: Aboard, owner: Phone, door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exchange_module, "MOST_OPERATIONS", 1)
    copy = aboard()
    for lost_at in range(5):
        lost = iter(number == lost_at for number in range(5))
        door.lose = lambda _, lost=lost: next(lost, False)
        for air_c in range(4):
            log_reading(copy, {"air_c": air_c})
        failures = 0
        while copy.operations("waiting") or not failures:
            try:
                exchange(copy)
            except LaterError:
                failures += 1
        assert failures == 1
        door.lose = lambda _: False
        assert readings(owner) == sorted([*range(4)] * (lost_at + 1))


def test_words_go_packed_both_ways(aboard: Aboard, owner: Phone, door: Door) -> None:
    copy = aboard()
    copy.act("log_note", [_note("soft timber " * 500)])
    for number in range(20):
        owner.create("zone", {"name": f"Zone {number}"})
    owner.sync()
    exchange(copy)
    seen = door.exchanges()[-1]
    assert seen.headers["Content-Encoding"] == "gzip"
    assert b"soft timber" in gzip.decompress(seen.content)
    assert seen.answered["content-encoding"] == "gzip"
    assert len(zones(copy)) == 20


def test_a_request_that_is_too_large_goes_in_smaller_ones(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    copy = aboard()
    for air_c in range(9):
        log_reading(copy, {"air_c": air_c})

    def too_large(request: Request) -> Response | None:
        content = request.get_data()
        unpacked = gzip.decompress(content) if content[:2] == b"\x1f\x8b" else content
        return Response("", 413) if len(json.loads(unpacked)["operations"]) > 2 else None

    door.before = too_large
    exchange(copy)
    assert readings(owner) == [*range(9)]


def test_pages_can_be_cut_anywhere(
    aboard: Aboard, owner: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = aboard()
    for number in range(11):
        owner.create("zone", {"name": f"Zone {number:02}"})
    owner.sync()
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 3)
    exchange(copy)
    assert zones(copy) == [f"Zone {number:02}" for number in range(11)]


def test_after_a_reset_the_old_copy_stays_until_the_fresh_one_is_whole(
    app: Flask, aboard: Aboard, owner: Phone, door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner.create("zone", {"name": "Keel"})
    owner.sync()
    copy = aboard()
    _new_epoch(app)
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 2)
    rest = iter([None, Response("", 503)])
    door.before = lambda _: next(rest, None)
    copy.act("create_zone", zone("Bow"))
    with pytest.raises(LaterError):
        exchange(copy)
    aside = copy.meta().aside
    assert aside is not None
    assert aside.cursor > 0
    assert zones(copy) == ["Bow", "Keel"]
    copy.act("create_zone", zone("Stern"))
    again = Copy.open(copy.file.path, copy.now_ms)  # a new process goes on where the old one was
    exchange(again)
    assert again.meta().aside is None
    assert zones(again) == ["Bow", "Keel", "Stern"]
    again.close()
    owner.sync()
    assert len([one for one in owner.state.items.values() if one.kind == "zone"]) == 3


def test_an_answer_that_was_overtaken_is_dropped_and_asked_for_again(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    """Hazard: two processes exchange at once, and the older answer would turn rows back."""
    id_ = owner.create("zone", {"name": "Keel"})
    owner.sync()
    copy = aboard()
    owner.set("zone", id_, {"area_m2": 5})
    owner.sync()
    once = iter([1])

    def overtake(_: object) -> None:
        if next(once, None):
            other = Copy.open(copy.file.path, copy.now_ms)
            (keel,) = other.rows("zone")
            rename = {"do": "set", "kind": "zone", "id": id_, "fields": {"name": "Keel bolts"}}
            other.act("rename", [{**rename, "seen": {"name": keel.at}}])
            exchange(other)
            other.close()

    door.after = overtake
    exchange(copy)
    assert zones(copy) == ["Keel bolts"]
    handed_over = [json.loads(one.content)["operations"] for one in door.exchanges()]
    assert [len(one) for one in handed_over] == [0, 0, 1, 0], "nothing twice"


def test_a_copy_that_misses_a_row_of_its_own_asks_for_a_whole_one(
    aboard: Aboard, owner: Phone
) -> None:
    owner.create("zone", {"name": "Keel"})
    owner.sync()
    copy = aboard()
    (keel,) = copy.rows("zone")
    copy.act(
        "create_zone",
        [{**zone("Bolts")[0], "fields": {"name": "Bolts", "parent_id": keel.id}}],
    )
    with copy.file.writing() as file:
        file.execute("DELETE FROM known WHERE id = ?", (keel.id,))
    exchange(copy)
    assert zones(copy) == ["Bolts", "Keel"]


def _note(text: str) -> dict[str, object]:
    return {
        "do": "record", "kind": "note", "id": f"note-{abs(hash(text))}", "body": {"text": text},
        "replaces": None, "void": False,
    }  # fmt: skip


def _new_epoch(app: Flask) -> None:
    with app.app_context():
        db.session.execute(update(Refit).values(epoch="another"))
        db.session.commit()
