"""The prepared snapshot: what is in it, who may have it, what it costs; on both databases."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from tackwatch.store.db import db
from tackwatch.store.models import SnapshotPage
from tackwatch.work import snapshot as snapshot_module
from tests.support.crew import Crew, UnluckyPhone
from tests.support.phone import Phone, new_id, read_difference, read_row
from tests.support.wires import Answer
from tests.support.world import StandingClock

Row = dict[str, Any]


@pytest.fixture(autouse=True)
def _small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a few rows be worth a snapshot of several pages."""
    monkeypatch.setattr(snapshot_module, "WORTH_FROM", 1)
    monkeypatch.setattr(snapshot_module, "PAGE_ROWS", 7)
    monkeypatch.setattr(snapshot_module, "FEW", 10)
    monkeypatch.setattr(snapshot_module, "MOST_BEHIND", 1.0)
    monkeypatch.setattr(snapshot_module, "PAUSE", timedelta())


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    return Crew.begin(app, clock, hands=1)


def ask(phone: Phone, **changes: Any) -> Answer:
    """Ask for everything, as a phone that can take snapshots."""
    body = {**phone.body(), "cursor": 0, "epoch": None, "operations": [], "snapshot": True}
    return phone.call("POST", "/sync", body={**body, **changes})


def page(phone: Phone, version: str, number: int, **headers: str) -> Answer:
    return phone.call("GET", f"/snapshot/{version}/{number}", headers=headers)


def unpacked(answer: Answer) -> dict[str, Any]:
    assert answer.status == 200, answer.content
    assert answer.headers["content-encoding"] == "gzip"
    return dict(json.loads(gzip.decompress(answer.content)))


def rows_of(table: dict[str, Any]) -> list[Row]:
    """Read a table as docs/sync.md, section 3, describes it."""
    part = "fields" if "fields" in table else "body"
    rows = []
    for place, id_ in enumerate(table["id"]):
        row: Row = {"kind": table["kind"], "id": id_, "at": table["at"][place]}
        row[part] = {name: column[place] for name, column in table[part].items()}
        few = {"stamps": {}, "sets": {}} if part == "fields" else {"replaces": None, "void": False}
        for name, absent in few.items():
            row[name] = table.get(name, {}).get(str(place), absent)
        rows.append(row)
    return rows


def load(phone: UnluckyPhone, answer: dict[str, Any]) -> None:
    """Load a snapshot and what came after it, as a phone does that holds nothing."""
    version, pages = answer["snapshot"]["version"], answer["snapshot"]["pages"]
    changes: list[Row] = []
    differences: list[Row] = []
    for number in range(pages):
        body = unpacked(page(phone, version, number))
        changes += [row for table in body["tables"] for row in rows_of(table)]
        differences += body["differences"]
    phone.state = phone.state.after(
        [row for row in map(read_row, changes) if not hasattr(row, "body")],  # type: ignore[misc]
        [row for row in map(read_row, changes) if hasattr(row, "body")],  # type: ignore[misc]
        map(read_difference, differences),
    )
    phone.confirmed |= {row["id"] for row in differences}
    phone.take(answer)


def fresh(crew: Crew) -> UnluckyPhone:
    owner = crew.phones[0]
    phone = UnluckyPhone.join(owner.wire, lambda: crew.clock.ms, owner.invite())
    assert isinstance(phone, UnluckyPhone)
    return phone


def job(title: str) -> dict[str, Any]:
    return {"do": "create", "kind": "job", "id": new_id(), "fields": {"title": title}}


def drop(phone: UnluckyPhone, id_: str) -> None:
    fields, seen = {"gone": True}, dict(phone.state.items[id_].stamps)
    phone.do({"do": "set", "kind": "job", "id": id_, "fields": fields, "seen": seen})


def grow(crew: Crew, count: int) -> list[str]:
    owner = crew.phones[0]
    made = [job(f"Job {number}") for number in range(count)]
    owner.do(*made)
    owner.attempt()
    return [one["id"] for one in made]


ACTS = st.lists(
    st.tuples(st.integers(0, 1), st.sampled_from(["make", "rename", "drop", "read", "void", "put"]),
              st.integers(0, 5), st.booleans()),
    min_size=1, max_size=25,
)  # fmt: skip


@given(acts=ACTS)
@settings(
    max_examples=12,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_snapshot_and_what_came_after_it_are_what_lives(
    app: Flask, clock: StandingClock, acts: list[tuple[int, str, int, bool]]
) -> None:
    """Whatever two people do, seen or unseen by each other, and whenever the snapshot was made."""
    crew = Crew.begin(app, clock, hands=1)
    made: list[str] = grow(crew, 3)
    readings: list[str] = []
    for who, what, which, then_sync in acts:
        phone = crew.phones[who]
        _act(phone, what, made, readings, which)
        if then_sync:
            phone.attempt()
    for phone in (*crew.phones, *crew.phones):
        phone.attempt()
    newcomer = fresh(crew)
    load(newcomer, ask(newcomer).json)
    truth = crew.truth()
    living = {id_: item for id_, item in truth.items.items() if not item.gone}
    held = {id_: item for id_, item in newcomer.state.items.items() if not item.gone}
    assert held == living
    assert dict(newcomer.state.records) == dict(truth.records)
    assert {id_: one.settled for id_, one in newcomer.state.differences.items()} == {
        id_: one.settled for id_, one in truth.differences.items()
    }


def _act(phone: UnluckyPhone, what: str, made: list[str], readings: list[str], which: int) -> None:
    id_ = made[which % len(made)]
    known = phone.view().items.get(id_)
    if what == "make" or known is None:
        create = job("Ñandú “port”")
        made.append(create["id"])
        phone.do(create)
    elif what == "rename":
        seen = {"title": known.stamp("title")}
        fields = {"title": f"by {phone.device_id} {len(phone.everything)}"}
        phone.do({"do": "set", "kind": "job", "id": id_, "fields": fields, "seen": seen})
    elif what == "drop":
        seen = dict(known.stamps)
        phone.do({"do": "set", "kind": "job", "id": id_, "fields": {"gone": True}, "seen": seen})
    elif (
        what == "put" and phone.member_id in phone.state.items
    ):  # nobody can be put on a step before
        step = {
            "do": "create",
            "kind": "step",
            "id": new_id(),
            "fields": {"job_id": id_, "kind": "sand"},
        }
        phone.do({**step, "sets": {"assignees": [phone.member_id]}})
    else:
        body = {"taken_at": "2026-03-02T08:00:00Z", "air_c": which}
        old = readings[-1] if readings and what == "void" else None
        record = {"do": "record", "kind": "reading", "id": new_id(), "replaces": old}
        if old is None or old not in phone.view().records:
            record["replaces"] = None
        void = record["replaces"] is not None and which % 2 == 0
        phone.do({**record, "body": {} if void else body, "void": void})
        readings.append(str(record["id"]))


def test_one_snapshot_serves_every_device_until_it_lies_too_far_back(crew: Crew, app: Flask):
    grow(crew, 15)
    first, second = (ask(fresh(crew)).json for _ in range(2))
    assert first["snapshot"] == second["snapshot"]
    grow(crew, 15)
    grow(crew, 15)
    third = ask(fresh(crew)).json
    assert third["snapshot"]["version"] != first["snapshot"]["version"]
    with app.app_context():
        kept = db.session.scalars(select(SnapshotPage.version).distinct()).all()
    assert len(kept) == 2, "the one before stays for those who are loading it"


def test_it_is_made_after_the_answer_that_aged_it_and_not_when_it_is_asked_for(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
):
    grow(crew, 30)
    monkeypatch.setattr("tackwatch.store.snapshots.keep", _fail)
    assert ask(fresh(crew)).json["snapshot"]["pages"] > 1


def test_of_many_hands_in_a_row_not_each_makes_one(
    crew: Crew, app: Flask, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(snapshot_module, "PAUSE", timedelta(minutes=1))
    for _ in range(3):
        grow(crew, 30)
    with app.app_context():
        assert len(set(db.session.scalars(select(SnapshotPage.version)))) == 1
    crew.clock.forward(minutes=1)
    grow(crew, 30)
    with app.app_context():
        assert len(set(db.session.scalars(select(SnapshotPage.version)))) == 2


def _fail(*_: object) -> None:
    raise AssertionError("nobody should wait for a snapshot")


def test_where_it_was_not_made_in_time_it_is_made_when_it_is_asked_for(
    crew: Crew, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("tackwatch.api.sync.make_ready", lambda *_, **__: None)
    grow(crew, 30)
    newcomer = fresh(crew)
    load(newcomer, ask(newcomer).json)
    assert newcomer.state.items == crew.truth().items


def test_a_page_has_an_etag_and_is_not_sent_to_who_holds_it_rfc_9110(crew: Crew):
    """Source: RFC 9110, sections 13.1.2 (If-None-Match) and 15.4.5 (304 has no content)."""
    grow(crew, 15)
    newcomer = fresh(crew)
    version = ask(newcomer).json["snapshot"]["version"]
    first, second = page(newcomer, version, 0), page(newcomer, version, 1)
    assert first.headers["etag"] != second.headers["etag"]
    again = page(newcomer, version, 0, **{"If-None-Match": first.headers["etag"]})
    assert (again.status, again.content) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]
    other = page(newcomer, version, 1, **{"If-None-Match": first.headers["etag"]})
    assert other.status == 200


def test_a_page_is_the_same_bytes_each_time_and_for_everybody(crew: Crew):
    grow(crew, 15)
    one, other = fresh(crew), fresh(crew)
    version, pages = ask(one).json["snapshot"]["version"], ask(one).json["snapshot"]["pages"]
    for number in range(pages):
        assert page(one, version, number).content == page(other, version, number).content


def test_what_was_deleted_is_not_in_it_and_makes_it_no_larger(crew: Crew):
    """Hazard: a new phone has to load everything that was ever deleted."""
    owner = crew.phones[0]
    grow(crew, 5)
    grown = crew.truth().items.keys()
    for id_ in grow(crew, 40):
        drop(owner, id_)
    owner.attempt()
    newcomer = fresh(crew)
    answer = ask(newcomer).json
    load(newcomer, answer)
    assert grown <= newcomer.state.items.keys()
    assert not [item for item in newcomer.state.items.values() if item.gone]


def test_what_is_deleted_after_the_snapshot_was_made_goes_from_who_loads_it(crew: Crew):
    ids = grow(crew, 15)
    version = ask(fresh(crew)).json["snapshot"]["version"]
    owner = crew.phones[0]
    drop(owner, ids[0])
    owner.attempt()
    newcomer = fresh(crew)
    answer = ask(newcomer).json
    assert answer["snapshot"]["version"] == version
    load(newcomer, answer)
    assert newcomer.state.items[ids[0]].gone


def test_own_rows_that_came_after_the_snapshot_are_sent_back_to_who_loads_it(crew: Crew):
    """A phone whose place is lost needs its own rows too."""
    grow(crew, 15)
    owner = crew.phones[0]
    first = ask(owner).json
    create = job("after the snapshot")
    owner.do(create)
    owner.attempt()
    again = ask(owner).json
    assert again["snapshot"] == first["snapshot"]
    assert create["id"] in [row["id"] for row in again["changes"]]


def test_pages_that_were_replaced_can_still_be_loaded_once(crew: Crew):
    grow(crew, 15)
    slow = fresh(crew)
    answer = ask(slow).json
    grow(crew, 30)
    assert ask(fresh(crew)).json["snapshot"] != answer["snapshot"]
    load(slow, answer)
    slow.attempt()
    assert slow.state.items == crew.truth().items
    grow(crew, 30)
    ask(fresh(crew))
    assert page(slow, answer["snapshot"]["version"], 0).status == 404


def test_who_cannot_take_a_snapshot_is_given_all_rows_as_ever(crew: Crew):
    ids = grow(crew, 30)
    newcomer = fresh(crew)
    answer = ask(newcomer, snapshot=False).json
    assert "snapshot" not in answer
    assert set(ids) <= {row["id"] for row in answer["changes"]}


def test_a_small_refit_has_none(crew: Crew, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(snapshot_module, "WORTH_FROM", 1_000)
    grow(crew, 30)
    answer = ask(fresh(crew)).json
    assert "snapshot" not in answer
    assert len(answer["changes"]) > 30


REFUSED: dict[str, Callable[[Crew, Phone], Answer]] = {
    "401 a withdrawn key": lambda crew, phone: _withdrawn(crew, phone),
    "401 no key": lambda crew, phone: phone.call("GET", _path(crew), key=None),
    "404 another refit": lambda crew, phone: _elsewhere(crew).call("GET", _path(crew)),
    "404 another refit's device under its own refit": lambda crew, phone: _misled(crew),
    "404 an unknown version": lambda crew, phone: phone.call("GET", "/snapshot/nothing/0"),
    "404 a page too many": lambda crew, phone: phone.call("GET", _path(crew).replace("/0", "/99")),
    "404 no number": lambda crew, phone: phone.call("GET", _path(crew).replace("/0", "/zero")),
}


@pytest.mark.parametrize("case", REFUSED)
def test_nobody_else_can_have_it(crew: Crew, case: str):
    grow(crew, 15)
    assert REFUSED[case](crew, fresh(crew)).status == int(case[:3])


def _path(crew: Crew) -> str:
    return f"/snapshot/{ask(crew.phones[0]).json['snapshot']['version']}/0"


def _withdrawn(crew: Crew, phone: Phone) -> Answer:
    path = _path(crew)
    assert phone.call("GET", path).status == 200
    assert crew.phones[0].call("DELETE", f"/devices/{phone.device_id}").status == 204
    return phone.call("GET", path)


def _elsewhere(crew: Crew) -> Phone:
    other = Phone.found(crew.phones[0].wire, lambda: crew.clock.ms)
    other.refit_id = crew.phones[0].refit_id
    return other


def _misled(crew: Crew) -> Answer:
    other = Phone.found(crew.phones[0].wire, lambda: crew.clock.ms)
    return other.call("GET", _path(crew))
