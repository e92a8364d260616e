"""The rules of one round trip, through the real door, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select, update

from tackwatch.merge.hlc import ALLOWANCE_MS, Stamp, parse
from tackwatch.store.db import db
from tackwatch.store.models import OperationRow, Refit
from tackwatch.work import sync as sync_module
from tests.support.crew import Crew
from tests.support.phone import Phone, new_id
from tests.support.wires import ClientWire
from tests.support.world import StandingClock

AT = "2026-03-02T08:00:00Z"


def reading(id_: str = "", air_c: float = 12) -> dict[str, Any]:
    body = {"taken_at": AT, "air_c": air_c}
    return {
        "do": "record",
        "kind": "reading",
        "id": id_ or new_id(),
        "body": body,
        "replaces": None,
    }


def job(title: str = "Job") -> dict[str, Any]:
    return {"do": "create", "kind": "job", "id": new_id(), "fields": {"title": title}}


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    made = Crew.begin(app, clock, hands=1)
    for phone in made.phones:
        phone.attempt()
    return made


def test_an_answer_lost_at_any_call_loses_and_doubles_nothing(crew: Crew):
    """Hazard: the server has committed and the phone never hears of it, whichever call that happens to."""
    owner = crew.phones[0]
    for lost_at in range(6):
        for call in range(6):
            owner.do(reading())
            owner.attempt("answer_lost" if call == lost_at else "", most=1)
        owner.attempt()
    assert not owner.outbox
    assert len(crew.truth().records) == 36


def test_a_poisoned_operation_is_refused_alone_and_keeps_its_words(crew: Crew):
    """Hazard: one operation that can never be taken stops those behind it."""
    owner = crew.phones[0]
    for number in range(100):
        if number == 41:
            text = "words \x00 that \ud83d no database keeps"
            owner.do({"do": "record", "kind": "note", "id": new_id(), "body": {"text": text}})
        else:
            owner.do(reading())
    owner.attempt()
    assert len(crew.truth().records) == 99
    (n,) = owner.refused
    assert owner.refused[n]["field"] == "actions[0].body.text"
    (kept,) = [one for one in crew.log() if one["refusal"]]
    assert kept["actions"][0]["body"]["text"] == "words ␀ that \ufffd no database keeps"


def test_before_a_gap_the_server_stops_and_says_how_far_it_came(crew: Crew):
    owner = crew.phones[0]
    for _ in range(4):
        owner.do(reading())
    del owner.outbox[1]
    owner.attempt()
    assert [one["n"] for one in owner.outbox] == [3, 4]
    owner.outbox.insert(0, owner.everything[1])
    owner.attempt()
    assert not owner.outbox
    assert len(crew.truth().records) == 4


def test_nobody_is_sent_back_what_they_sent_but_what_the_merge_made_of_it(crew: Crew):
    owner, hand = crew.phones
    create = job()
    owner.do(create)
    answer = owner._send(2_000)
    assert answer["changes"] == []
    owner.take(answer)
    hand.attempt()
    seen = {"title": owner.state.items[create["id"]].at}
    edit = {"do": "set", "kind": "job", "id": create["id"], "seen": seen}
    hand.do({**edit, "fields": {"title": "Hand's"}})
    hand.attempt()
    owner.do({**edit, "fields": {"title": "Owner's"}})
    answer = owner._send(2_000)
    assert [row["id"] for row in answer["changes"]] == [create["id"]]
    assert len(answer["differences"]) == 1


def test_a_row_that_two_changed_reaches_both(crew: Crew):
    owner, hand = crew.phones
    create = job()
    owner.do(create)
    owner.attempt()
    hand.attempt()
    hand.do({"do": "set", "kind": "job", "id": create["id"], "fields": {"text": "from the hand"}})
    hand.attempt()
    owner.do({"do": "set", "kind": "job", "id": create["id"], "fields": {"afloat_ok": True}})
    owner.attempt()
    hand.attempt()
    truth = crew.truth().items[create["id"]]
    assert truth.fields["text"] == "from the hand"
    assert truth.fields["afloat_ok"] is True
    assert owner.state.items[create["id"]] == hand.state.items[create["id"]] == truth


def test_a_stamp_from_the_future_is_set_back_and_what_was_sent_is_kept(crew: Crew, app: Flask):
    """Hazard: a clock that is a year ahead would win every difference for a year."""
    owner = crew.phones[0]
    owner.clock_off_ms = 366 * 86_400_000
    create = job()
    owner.do(create)
    owner.attempt()
    filed = parse(crew.truth().items[create["id"]].at)
    assert filed.ms <= crew.clock.ms + ALLOWANCE_MS
    with app.app_context():
        row = db.session.scalars(select(OperationRow)).one()
        assert parse(row.sent).ms > crew.clock.ms + ALLOWANCE_MS
    assert owner.state.items == {
        k: v for k, v in crew.truth().items.items() if k in owner.state.items
    }
    owner.do({"do": "set", "kind": "job", "id": create["id"], "fields": {"title": "Again"}})
    owner.attempt()
    assert owner.state.items[create["id"]].fields["title"] == "Again"
    assert not crew.truth().differences


def test_an_unreadable_stamp_is_refused_and_filed(crew: Crew):
    owner = crew.phones[0]
    owner.do(reading())
    owner.outbox[0]["at"] = "yesterday"
    owner.attempt()
    (problem,) = owner.refused.values()
    assert problem["field"] == "at"


def test_whoever_lost_the_count_is_given_the_whole_again(crew: Crew, app: Flask):
    """Hazard: a server restored from a backup; its epoch is another and its numbers may be smaller."""
    owner, hand = crew.phones
    for _ in range(3):
        owner.do(reading())
    owner.attempt()
    hand.attempt()
    with app.app_context():
        db.session.execute(update(Refit).values(epoch="another"))
        db.session.commit()
    answer = hand._send(2_000)
    assert answer["reset"] is True
    hand.take(answer)
    assert len(hand.state.records) == 3
    answer = owner._send(2_000)
    assert len([row for row in answer["changes"] if row["kind"] == "reading"]) == 3, "own rows too"


def test_pages_can_be_cut_anywhere(crew: Crew, monkeypatch: pytest.MonkeyPatch):
    owner, hand = crew.phones
    for number in range(12):
        owner.do(reading(), job(f"Job {number}"))
    owner.attempt()
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 5)
    pages = 0
    more = True
    while more:
        answer = hand._send(2_000)
        assert len(answer["changes"]) <= 5
        hand.take(answer)
        more, pages = answer["more"], pages + 1
    assert pages == 5
    assert dict(hand.state.records) == crew.truth().records


def test_a_first_sync_does_not_grow_with_what_was_deleted(crew: Crew):
    """Hazard: a new phone has to load everything that was ever deleted."""
    owner = crew.phones[0]
    made = [job(str(number)) for number in range(30)]
    owner.do(*made)
    owner.attempt()
    for one in made[5:]:
        item = owner.state.items[one["id"]]
        owner.do(
            {
                "do": "set",
                "kind": "job",
                "id": item.id,
                "fields": {"gone": True},
                "seen": dict(item.stamps),
            }
        )
    owner.attempt()
    fresh = Phone.join(owner.wire, lambda: crew.clock.ms, owner.invite())
    fresh.sync()
    jobs = [item for item in fresh.state.items.values() if item.kind == "job"]
    assert len(jobs) == 5


def test_a_deletion_during_the_first_sync_reaches_the_phone(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
):
    owner = crew.phones[0]
    made = [job(str(number)) for number in range(10)]
    owner.do(*made)
    owner.attempt()
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 4)
    late = Phone.join(owner.wire, lambda: crew.clock.ms, owner.invite())
    first = late.call("POST", "/sync", body={**_request(late)}).json
    late.take(first)
    owner.do({"do": "set", "kind": "job", "id": made[0]["id"], "fields": {"gone": True}})
    owner.attempt()
    late.sync()
    assert late.state.items[made[0]["id"]].gone


def test_eight_phones_at_once_all_get_through(app: Flask, clock: StandingClock):
    """Hazard: eight phones pushing at once, no 5xx; numbers are unique and every row reaches everybody."""
    crew = Crew.begin(app, clock, hands=7)
    for phone in crew.phones:
        phone.wire = ClientWire(app.test_client())
        for _ in range(20):
            phone.do(reading())

    def push(phone: Any) -> None:
        for _ in range(5):
            phone.attempt(most=4)

    with ThreadPoolExecutor(8) as threads:
        list(threads.map(push, crew.phones))
    for phone in crew.phones:
        phone.attempt()
    truth = crew.truth()
    assert len(truth.records) == 160
    for phone in crew.phones:
        assert dict(phone.state.records) == truth.records


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"protocol": 2}, "protocol-too-new", "protocol"),
        ({"protocol": 0}, "protocol-too-old", "protocol"),
        ({"schema": 99}, "schema-too-new", "schema"),
        ({"device": "someone00000"}, "other-device", "device"),
    ],
)
def test_versions_and_devices_that_do_not_match_are_named(
    crew: Crew, change: dict[str, Any], code: str, field: str
):
    owner = crew.phones[0]
    owner.do(reading())
    answer = owner.call(
        "POST", "/sync", body={**_request(owner), "operations": owner.outbox, **change}
    )
    assert answer.status in (409, 422)
    assert answer.json["field"] == field
    assert answer.status == 422 or answer.json["type"].endswith(code)
    assert not crew.truth().records


def test_the_clock_in_an_answer_is_past_everything_filed(crew: Crew):
    owner = crew.phones[0]
    owner.clock_off_ms = ALLOWANCE_MS - 1_000
    owner.do(reading())
    answer = owner._send(2_000)
    assert parse(answer["clock"]) > Stamp(parse(owner.everything[0]["at"]).ms, 0, "")


def _request(phone: Phone) -> dict[str, Any]:
    return {
        "protocol": 1,
        "schema": 1,
        "epoch": phone.epoch,
        "device": phone.device_id,
        "cursor": phone.cursor,
        "operations": [],
    }
