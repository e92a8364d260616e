"""What a lost or wiped phone had sent: told to the owner and to the person whose phone it was, and to nobody else."""

from __future__ import annotations

import pytest
from flask import Flask

from tackwatch.work.sent import PAGE
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.world import StandingClock


def lose(hand: Phone, owner: Phone) -> Phone:
    """Let a hand's phone be lost with something unsent on it; give the phone with which the same person comes back."""
    hand.record("note", {"text": "Never sent"})
    return Phone.join(
        hand.wire, hand.now_ms, owner.invite("hand", "Hand", member_id=hand.member_id), "new phone"
    )


@pytest.fixture
def hand(owner: Phone) -> Phone:
    hand = owner.crew("hand")
    hand.sync()
    for text in ("Soft timber", "Keel bolts weep"):
        hand.record("note", {"text": text})
        hand.sync()
    return hand


def test_the_person_sees_on_a_new_phone_what_the_old_one_had_sent(
    owner: Phone, hand: Phone, clock: StandingClock
) -> None:
    sent_at = clock.at
    clock.forward(hours=1)
    new = lose(hand, owner)
    assert new.device_id != hand.device_id
    assert new.member_id == hand.member_id
    sent = new.call("GET", f"/devices/{hand.device_id}/sent").json
    assert (sent["device_id"], sent["member_id"]) == (hand.device_id, hand.member_id)
    assert sent["last_n"] == 2
    assert sent["last_received_at"] == sent_at.isoformat()
    assert [(one["n"], one["act"]) for one in sent["operations"]] == [
        (2, "log_note"),
        (1, "log_note"),
    ]
    texts = [one["actions"][0]["body"]["text"] for one in sent["operations"]]
    assert texts == ["Keel bolts weep", "Soft timber"]
    assert sent["more"] is False


def test_the_owner_sees_it_of_any_phone(owner: Phone, hand: Phone) -> None:
    sent = owner.call("GET", f"/devices/{hand.device_id}/sent").json
    assert [one["n"] for one in sent["operations"]] == [2, 1]
    assert sent["name"] == "hand's phone"


def test_it_is_told_of_a_phone_whose_key_was_withdrawn_too(owner: Phone, hand: Phone) -> None:
    owner.call("DELETE", f"/devices/{hand.device_id}")
    assert owner.call("GET", f"/devices/{hand.device_id}/sent").json["last_n"] == 2


def test_what_was_refused_is_told_with_its_verdict(owner: Phone, hand: Phone) -> None:
    hand.record("note", {"text": 7})
    hand.sync()
    (last, *_) = owner.call("GET", f"/devices/{hand.device_id}/sent").json["operations"]
    assert (last["n"], last["problem"]["status"]) == (3, 422)
    assert last["actions"][0]["body"] == {"text": 7}


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_nobody_else_of_the_crew_is_told(app: Flask, owner: Phone, hand: Phone, role: str) -> None:
    other = owner.crew(role, "Somebody else")
    before = dump(app)["operation"]
    answer = other.call("GET", f"/devices/{hand.device_id}/sent")
    assert (answer.status, answer.json["type"]) == (403, "urn:tackwatch:problem:not-allowed")
    assert answer.headers["content-type"] == "application/problem+json"
    assert dump(app)["operation"] == before


def test_a_phone_of_another_refit_is_not_known(owner: Phone, hand: Phone) -> None:
    stranger = Phone.found(owner.wire, owner.now_ms)
    for device_id in (hand.device_id, "nosuchdevice", "%00", "a" * 200):
        answer = stranger.call("GET", f"/devices/{device_id}/sent")
        assert (answer.status, answer.json["type"]) == (404, "urn:tackwatch:problem:unknown-device")


@pytest.mark.parametrize("before", ["0", "-1", "x", "1.5", "9" * 30])
def test_a_number_that_is_none_is_refused_by_its_name(
    owner: Phone, hand: Phone, before: str
) -> None:
    answer = owner.call("GET", f"/devices/{hand.device_id}/sent?before={before}")
    assert answer.status == 422
    assert answer.json["field"] == "before"


def test_a_phone_that_sent_much_is_told_of_in_pages_from_the_last_on(
    owner: Phone, hand: Phone
) -> None:
    for number in range(3, 2 * PAGE + 8):
        hand.record("note", {"text": str(number)})
    hand.sync()
    numbers: list[int] = []
    before, more = "", True
    while more:
        page = owner.call("GET", f"/devices/{hand.device_id}/sent{before}").json
        numbers += [one["n"] for one in page["operations"]]
        assert page["last_n"] == 2 * PAGE + 7
        before, more = f"?before={numbers[-1]}", page["more"]
    assert numbers == list(range(2 * PAGE + 7, 0, -1))


def test_a_phone_that_sent_nothing_has_an_empty_list(owner: Phone) -> None:
    new = owner.crew("hand", "New")
    sent = new.call("GET", f"/devices/{new.device_id}/sent").json
    assert (sent["last_n"], sent["last_received_at"], sent["operations"]) == (0, None, [])
