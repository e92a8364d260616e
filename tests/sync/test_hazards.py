"""What is known to go wrong where phones work apart, each provoked through the door, on both databases.

The table of all of them, with what a person sees, is in docs/sync.md; ``test_worked_example.py`` holds it to the tests.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select

from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.hlc import parse
from tackwatch.merge.state import Item
from tackwatch.store.db import db
from tackwatch.store.models import RecordRow
from tackwatch.work import sync as sync_module
from tests.support.crew import Crew, UnluckyPhone
from tests.support.phone import Phone, new_id
from tests.support.wires import ClientWire
from tests.support.world import StandingClock

HOUR_MS = 3_600_000
YEAR_MS = 31_536_000_000


def reading(air_c: float = 12) -> dict[str, Any]:
    body = {"taken_at": "2026-03-02T08:00:00Z", "air_c": air_c}
    return {"do": "record", "kind": "reading", "id": new_id(), "body": body, "replaces": None}


def job(title: str = "Job") -> dict[str, Any]:
    return {"do": "create", "kind": "job", "id": new_id(), "fields": {"title": title}}


def edit(item: Item, **fields: Any) -> dict[str, Any]:
    seen = {name: item.stamp(name) for name in fields}
    return {"do": "set", "kind": item.kind, "id": item.id, "fields": fields, "seen": seen}


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    made = Crew.begin(app, clock, hands=2)
    for phone in made.phones:
        phone.attempt()
    return made


def all_meet(crew: Crew) -> None:
    for _ in range(2):
        for phone in crew.phones:
            phone.attempt()


# --- numbers that become visible out of their order ------------------------------------------------------------------


def test_a_cursor_never_passes_a_row_that_is_committed_later(
    crew: Crew, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One writer is held just before its commit, its rows numbered, while another writes and a third reads."""
    slow, fast, reader = crew.phones
    for phone in crew.phones:
        phone.wire = ClientWire(app.test_client())
    slow.do(reading(1))
    fast.do(reading(2))
    numbered, others_done = threading.Event(), threading.Event()
    real = sync_module.after_filing

    def held(*given: Any) -> None:
        real(*given)
        if threading.current_thread().name == "slow":
            numbered.set()
            others_done.wait(2)  # with the lock they cannot be done before this commits

    monkeypatch.setattr(sync_module, "after_filing", held)

    def write_and_read() -> None:
        fast.attempt()
        reader.attempt()
        others_done.set()

    threads = [
        threading.Thread(target=slow.attempt, name="slow"),
        threading.Thread(target=write_and_read),
    ]
    threads[0].start()
    assert numbered.wait(60)
    threads[1].start()
    for one in threads:
        one.join()
    reader.attempt()
    assert len(reader.state.records) == 2
    assert dict(reader.state.records) == crew.truth().records
    _check_no_number_stands_twice(crew)


def test_two_that_write_without_a_pause_leave_no_gap_for_a_third_who_reads(
    crew: Crew, app: Flask
) -> None:
    *writers, reader = crew.phones
    for phone in crew.phones:
        phone.wire = ClientWire(app.test_client())
    written = threading.Event()

    def write(phone: UnluckyPhone) -> None:
        for number in range(25):
            phone.do(*(reading(number) for _ in range(1 + number % 7)))
            phone.attempt()

    def read() -> None:
        while not written.is_set():
            reader.attempt()

    reading_on = threading.Thread(target=read)
    reading_on.start()
    threads = [threading.Thread(target=write, args=(phone,)) for phone in writers]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    written.set()
    reading_on.join()
    reader.attempt()
    assert dict(reader.state.records) == crew.truth().records
    assert len(reader.state.records) == 2 * sum(1 + number % 7 for number in range(25))
    _check_no_number_stands_twice(crew)


def _check_no_number_stands_twice(crew: Crew) -> None:
    """A page may be cut after any number, so two rows under one would lose one of them."""
    with crew.app.app_context():
        query = select(RecordRow.seq).where(RecordRow.refit_id == crew.refit_id)
        numbers = list(db.session.scalars(query))
    assert len(set(numbers)) == len(numbers)


# --- clocks ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("off_ms", [-YEAR_MS, -HOUR_MS, HOUR_MS, YEAR_MS])
def test_who_saw_a_value_and_changed_it_wins_whatever_the_clocks_say(
    crew: Crew, off_ms: int
) -> None:
    owner, hand, _ = crew.phones
    create = job("first")
    owner.do(create)
    all_meet(crew)
    owner.clock_off_ms = off_ms
    owner.do(edit(owner.state.items[create["id"]], title="by a wrong clock"))
    owner.attempt()
    hand.attempt()
    hand.do(edit(hand.state.items[create["id"]], title="by who saw it"))
    all_meet(crew)
    truth = crew.truth()
    assert truth.items[create["id"]].fields["title"] == "by who saw it"
    assert truth.differences == {}
    now_ms = crew.clock.ms
    assert all(parse(one.at).ms <= now_ms + 5 * 60_000 for one in truth.items.values())


@pytest.mark.parametrize("back_ms", [HOUR_MS, YEAR_MS])
def test_a_clock_that_steps_back_undoes_nothing_that_its_own_hand_did(
    crew: Crew, back_ms: int
) -> None:
    owner = crew.phones[0]
    create = job("first")
    owner.do(create)
    owner.attempt()
    owner.clock_off_ms -= back_ms
    for title in ("second", "third"):
        owner.do(edit(owner.view().items[create["id"]], title=title))
    all_meet(crew)
    assert crew.truth().items[create["id"]].fields["title"] == "third"
    assert [one["n"] for one in crew.log()] == [1, 2, 3]
    assert sorted(one["at"] for one in crew.log()) == [one["at"] for one in crew.log()]
    assert crew.truth().differences == {}


# --- deletion against work -------------------------------------------------------------------------------------------

TOUCHES: dict[str, Callable[[Item, str], dict[str, Any]]] = {
    "edit": lambda step, _: edit(step, title="more work"),
    "put_in": lambda step, member: {
        "do": "put_in", "kind": "step", "id": step.id, "set": "assignees", "member": member,
    },
}  # fmt: skip


@pytest.mark.parametrize(
    ("touch", "acts_first", "sends_first", "reads_between"),
    list(product(TOUCHES, ("deleter", "worker"), ("deleter", "worker"), (False, True))),
)
def test_deletion_against_work_keeps_the_work_and_asks_in_every_interleaving(
    crew: Crew, touch: str, acts_first: str, sends_first: str, reads_between: bool
) -> None:
    """Both work offline; who acts first, who sends first, and whether anybody reads in between makes no difference."""
    owner, hand, third = crew.phones
    parent = job()
    step = {
        "do": "create",
        "kind": "step",
        "id": new_id(),
        "fields": {"job_id": parent["id"], "kind": "coat"},
    }
    owner.do(parent)
    owner.do(step)
    all_meet(crew)
    id_ = step["id"]
    acts: dict[str, Callable[[], None]] = {
        "deleter": lambda: owner.drop("step", id_),
        "worker": lambda: hand.do(TOUCHES[touch](hand.state.items[id_], hand.member_id)),
    }
    sends = {"deleter": owner.attempt, "worker": hand.attempt}
    for name in (acts_first, *(acts.keys() - {acts_first})):
        acts[name]()
        crew.clock.forward(seconds=1)
    for name in (sends_first, *(sends.keys() - {sends_first})):
        sends[name]()
        if reads_between:
            third.attempt()
    all_meet(crew)
    truth = crew.truth()
    assert not truth.items[id_].gone
    assert [one.field for one in truth.differences.values()] == ["gone"]
    if touch == "edit":
        assert truth.items[id_].fields["title"] == "more work"
    else:
        assert hand.member_id in truth.items[id_].sets["assignees"]
    for phone in crew.phones:
        assert phone.state.items[id_] == truth.items[id_]
        assert dict(phone.state.differences) == truth.differences


def test_who_saw_the_work_may_delete_it_and_who_saw_the_deletion_may_take_it_back(
    crew: Crew,
) -> None:
    owner, hand, _ = crew.phones
    create = job()
    owner.do(create)
    all_meet(crew)
    hand.do(edit(hand.state.items[create["id"]], title="more work"))
    all_meet(crew)
    owner.drop("job", create["id"])
    all_meet(crew)
    assert crew.truth().items[create["id"]].gone
    assert crew.truth().differences == {}
    owner.do(edit(owner.state.items[create["id"]], gone=False))
    all_meet(crew)
    assert not hand.state.items[create["id"]].gone
    assert crew.truth().differences == {}


# --- what a new phone loads ------------------------------------------------------------------------------------------


def test_the_bytes_of_a_first_sync_do_not_grow_with_what_was_deleted(crew: Crew) -> None:
    owner = crew.phones[0]
    before, after = (Phone.join(owner.wire, lambda: crew.clock.ms, owner.invite()) for _ in "12")
    owner.do(job("stays"))
    owner.attempt()
    loaded_before = _bytes_of_first_sync(before)
    made = [job(f"A job of some words, number {number}") for number in range(120)]
    owner.do(*made)
    owner.attempt()
    for one in made:
        owner.drop("job", one["id"])
    owner.attempt()
    assert not owner.refused
    assert _bytes_of_first_sync(after) <= loaded_before + 200


def _bytes_of_first_sync(phone: Phone) -> int:
    size = 0
    while True:
        answer = phone.exchange()
        assert answer.status == 200
        size += len(answer.content)
        phone.take(answer.json)
        if not answer.json["more"]:
            return size


# --- people whose rights changed -------------------------------------------------------------------------------------


def test_what_a_role_may_no_longer_do_is_refused_with_its_words_and_the_rest_goes_through(
    crew: Crew,
) -> None:
    owner, hand, _ = crew.phones
    note = {
        "do": "record",
        "kind": "note",
        "id": new_id(),
        "body": {"text": "soft timber"},
        "replaces": None,
    }
    hand.do(job("queued as a hand"))
    hand.do(note)
    own = hand.state.items[hand.member_id]
    hand.do(edit(own, language="es"))
    owner.do(edit(owner.state.items[hand.member_id], role="viewer"))
    owner.attempt()
    hand.attempt()
    assert not hand.outbox
    assert sorted(hand.refused) == [1, 2]
    assert {one["type"] for one in hand.refused.values()} == {"urn:tackwatch:problem:not-allowed"}
    kept = {one["n"]: one["actions"] for one in crew.log() if one["device_id"] == hand.device_id}
    assert kept[2][0]["body"]["text"] == "soft timber"
    assert crew.truth().items[hand.member_id].fields["language"] == "es"
    assert crew.truth().items[hand.member_id].fields["role"] == "viewer"


def test_with_a_withdrawn_key_nothing_goes_out_and_nothing_counts_as_somebody_else_s(
    crew: Crew,
) -> None:
    owner, hand, _ = crew.phones
    for _ in range(50):
        hand.do(reading())
    assert owner.call("DELETE", f"/devices/{hand.device_id}").status == 204
    assert hand.exchange().status == 401
    assert len(hand.outbox) == 50
    hand.do(reading())
    assert len(hand.view().records) == 51, "readable and writable"
    # with another key the door does not take what this device did
    assert hand.call("POST", "/sync", key=owner.key, body=hand.body()).status == 409
    assert crew.truth().records == {}


# --- apps and servers of different ages ------------------------------------------------------------------------------


@pytest.mark.parametrize("schema", range(1, SCHEMA + 1))
def test_an_app_of_every_earlier_schema_is_still_served(crew: Crew, schema: int) -> None:
    owner = crew.phones[0]
    owner.do(reading())
    answer = owner.call("POST", "/sync", body={**owner.body(), "schema": schema})
    assert answer.status == 200
    assert (answer.json["acknowledged_n"], answer.json["refused"]) == (1, [])


# --- a backup that is older than the phones --------------------------------------------------------------------------


def test_who_was_taken_off_stays_off_when_the_putting_on_is_offered_again_after_it(
    crew: Crew,
) -> None:
    """The restored server hears first from who saw a crew and changed it, and of that crew only then."""
    owner, maker, hand = crew.phones
    made = job()
    owner.do(made)
    step = {
        "do": "create",
        "kind": "step",
        "id": new_id(),
        "fields": {"job_id": made["id"], "kind": "sand"},
    }
    owner.do(step)
    all_meet(crew)
    crewed = {"kind": "step", "id": step["id"], "set": "assignees", "member": hand.member_id}
    maker.do({**crewed, "do": "put_in"}, {**crewed, "member": maker.member_id, "do": "put_in"})
    tags = [one["at"] for one in maker.outbox]
    owner.do({**crewed, "do": "take_out", "tags": tags})
    owner.attempt()
    all_meet(crew)
    for phone in crew.phones:
        assert set(phone.view().items[step["id"]].sets["assignees"]) == {maker.member_id}
