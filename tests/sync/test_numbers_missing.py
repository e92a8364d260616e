"""A server restored from a backup that is older than what phones still hold: the numbers between are nobody's."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, func, select

from tackwatch.remote.exchange import exchange
from tackwatch.remote.readings import log_reading
from tackwatch.store.db import db
from tackwatch.store.models import Device, OperationRow, RecordRow, Refit
from tackwatch.work.begins import MOST_MISSING, last_before
from tests.remote.conftest import Aboard, aboard, door  # noqa: F401 - a device behind a real door
from tests.support.phone import Phone
from tests.support.wires import Answer


def restore(app: Flask, phone: Phone, device_id: str, last_n: int) -> None:
    """Put the server back to where a device had come to ``last_n``, as a backup from then would."""
    with app.app_context():
        later = (OperationRow.device_id == device_id, OperationRow.n > last_n)
        stamps = select(OperationRow.at).where(*later)
        db.session.execute(delete(RecordRow).where(RecordRow.at.in_(stamps)))
        db.session.execute(delete(OperationRow).where(*later))
        device = db.session.get(Device, device_id)
        refit = db.session.get(Refit, phone.refit_id)
        assert device is not None
        assert refit is not None
        device.last_n, refit.epoch = last_n, "another"
        db.session.commit()


def notes(app: Flask) -> int:
    with app.app_context():
        return db.session.scalar(select(func.count()).select_from(RecordRow)) or 0


@pytest.fixture
def hand(owner: Phone) -> Phone:
    """Give a phone that sent ten notes."""
    hand = owner.crew("hand")
    hand.sync()
    for number in range(1, 11):
        hand.record("note", {"text": f"Note {number}"})
    hand.sync()
    return hand


def offer(phone: Phone, first_n: Any, *numbers: int) -> Answer:
    """Offer some of what the phone had sent, and say from which number on it can."""
    operations = [one for one in phone.sent if one["n"] in numbers]
    return phone.call(
        "POST", "/sync", body={**phone.body(), "operations": operations, "first_n": first_n}
    )


def test_what_a_phone_still_holds_is_taken_behind_the_numbers_that_are_lost(
    app: Flask, owner: Phone, hand: Phone
) -> None:
    restore(app, owner, hand.device_id, 3)
    assert offer(hand, None, 8, 9, 10).json["acknowledged_n"] == 3, "a client that says nothing"
    answer = offer(hand, 8, 8, 9, 10)
    assert answer.json["acknowledged_n"] == 10
    assert offer(hand, 8, 8, 9, 10).json["acknowledged_n"] == 10
    assert notes(app) == 3 + 3, "nothing twice"
    hand.epoch = answer.json["epoch"]
    hand.record("note", {"text": "After it"})
    assert hand.sync()["acknowledged_n"] == 11


def test_the_owner_sees_which_numbers_are_missing(app: Flask, owner: Phone, hand: Phone) -> None:
    assert owner.call("GET", f"/devices/{hand.device_id}/sent").json["missing"] == []
    restore(app, owner, hand.device_id, 3)
    offer(hand, 6, 6, 7)
    restore(app, owner, hand.device_id, 7)
    offer(hand, 9, 9, 10)
    sent = owner.call("GET", f"/devices/{hand.device_id}/sent").json
    assert sent["missing"] == [{"from": 4, "to": 5}, {"from": 8, "to": 8}]
    assert [one["n"] for one in sent["operations"]] == [10, 9, 7, 6, 3, 2, 1]


def test_a_phone_whose_first_number_is_lost_too_begins_there(
    app: Flask, owner: Phone, hand: Phone
) -> None:
    restore(app, owner, hand.device_id, 0)
    assert offer(hand, 5, 5, 6).json["acknowledged_n"] == 6
    sent = owner.call("GET", f"/devices/{hand.device_id}/sent").json
    assert sent["missing"] == [{"from": 1, "to": 4}]


@pytest.mark.parametrize("first_n", [1, 3, 4, 7, 9, 10_000, 2**53 - 1])
def test_a_first_number_that_is_not_that_of_the_first_operation_changes_nothing(
    app: Flask, owner: Phone, hand: Phone, first_n: int
) -> None:
    restore(app, owner, hand.device_id, 3)
    assert offer(hand, first_n, 8, 9).json["acknowledged_n"] == 3
    assert offer(hand, first_n).json["acknowledged_n"] == 3
    assert notes(app) == 3


@pytest.mark.parametrize("first_n", [0, -1, 1.5, "8", True, [8], {"n": 8}, 2**53, 10**400])
def test_a_first_number_that_is_none_is_refused_by_its_name(
    app: Flask, owner: Phone, hand: Phone, first_n: Any
) -> None:
    restore(app, owner, hand.device_id, 3)
    answer = offer(hand, first_n, 8)
    assert (answer.status, answer.json["field"]) == (422, "first_n")
    assert notes(app) == 3


def test_a_number_far_beyond_what_can_be_missing_is_refused_and_changes_nothing(
    app: Flask, hand: Phone
) -> None:
    hand.next_n = 10 + MOST_MISSING + 1
    hand.record("note", {"text": "From far ahead"})
    body = {**hand.body(), "first_n": hand.outbox[0]["n"]}
    answer = hand.call("POST", "/sync", body=body)
    assert (answer.status, answer.json["field"]) == (422, "first_n")
    assert notes(app) == 10
    hand.outbox[0]["n"] = 11
    assert hand.sync()["acknowledged_n"] == 11


@given(
    held=st.integers(0, 30),
    first=st.integers(1, 40),
    calls=st.lists(st.tuples(st.integers(1, 40), st.integers(1, 8)), max_size=12),
)
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_however_calls_come_the_numbering_only_rises_and_takes_no_number_twice(
    held: int, first: int, calls: list[tuple[int, int]]
) -> None:
    """A model of the filing loop: calls of runs of numbers, in any order and again, of a phone that holds ``first``."""
    last_n, taken = held, []
    for start, length in calls:
        run = range(max(first, start), max(first, start) + length)
        fresh = [n for n in run if n > last_n]
        if not fresh:
            continue
        before = last_before(last_n, first, fresh)
        assert before >= last_n
        last_n = before
        for n in fresh:
            if n == last_n + 1:
                taken.append(n)
                last_n += 1
    assert len(set(taken)) == len(taken)
    assert taken == sorted(taken)
    begun = max(first, held + 1)
    assert taken == list(range(begun, begun + len(taken))), "only what nobody holds is left out"


def test_a_device_without_a_screen_drains_its_queue_after_such_a_restore(
    app: Flask,
    owner: Phone,
    aboard: Aboard,  # noqa: F811
) -> None:
    device = aboard()
    for air_c in range(1, 7):
        log_reading(device, {"air_c": air_c})
    exchange(device)
    with device.file.writing() as file:
        file.execute("DELETE FROM operation WHERE n <= 4")
    restore(app, owner, device.meta().device_id, 2)
    log_reading(device, {"air_c": 7})
    exchange(device)
    assert device.operations("waiting") == []
    with app.app_context():
        bodies = db.session.scalars(select(RecordRow.body).where(RecordRow.kind == "reading"))
        assert sorted(body["air_c"] for body in bodies) == [1, 2, 5, 6, 7]
    device_id = device.meta().device_id
    sent = owner.call("GET", f"/devices/{device_id}/sent").json
    assert sent["missing"] == [{"from": 3, "to": 4}]


def test_a_number_of_hundreds_of_digits_is_refused_with_its_entry_and_holds_up_no_other(
    app: Flask, hand: Phone
) -> None:
    hand.record("reading", {"taken_at": "2026-03-02T08:00:00Z", "air_c": 10**400})
    hand.record("note", {"text": "Behind it"})
    answer = hand.sync()
    assert answer["acknowledged_n"] == 12
    (problem,) = hand.refused.values()
    assert problem["field"] == "actions[0].body.air_c"
    assert notes(app) == 11
