"""Parts of items for a device that holds the rest: with them it ends just as with whole rows, and cheaper."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import pytest
from flask import Flask

from tackwatch.work import sync as sync_module
from tests.support.crew import Crew, UnluckyPhone
from tests.support.phone import Phone, new_id
from tests.support.world import StandingClock


class Reader(Phone):
    """A phone that takes parts: a part is put over the item as it is here."""

    more: bool = False
    parts: int = 0

    def body(self) -> dict[str, Any]:
        """Ask for parts where every row up to the cursor is here."""
        return {**super().body(), "parts": self.cursor > 0 and not self.more}

    def take(self, answer: Mapping[str, Any]) -> None:
        """Complete the parts first."""
        self.more = answer["more"]
        whole = [self._whole(row) if "part" in row else row for row in answer["changes"]]
        super().take({**answer, "changes": whole})

    def _whole(self, part: dict[str, Any]) -> dict[str, Any]:
        self.parts += 1
        known = self.state.items[part["id"]]
        fields = {**known.fields, **part["fields"]}
        return {**part, "at": known.at, "fields": fields}


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    return Crew.begin(app, clock, hands=2)


def reader(crew: Crew) -> Reader:
    owner = crew.phones[0]
    phone = Reader.join(owner.wire, lambda: crew.clock.ms, owner.invite())
    assert isinstance(phone, Reader)
    phone.sync()
    return phone


def job(title: str) -> dict[str, Any]:
    fields = {"title": title, "text": "a long text " * 20}
    return {"do": "create", "kind": "job", "id": new_id(), "fields": fields}


def put(phone: UnluckyPhone, id_: str, **fields: Any) -> None:
    item = phone.view().items[id_]
    seen = {name: item.stamp(name) for name in fields}
    if fields.get("gone"):
        seen = dict(item.stamps)
    phone.do({"do": "set", "kind": "job", "id": id_, "fields": fields, "seen": seen})


def test_of_an_item_that_is_held_only_what_was_set_later_is_sent(crew: Crew):
    owner = crew.phones[0]
    made = job("Keel")
    owner.do(made)
    owner.attempt()
    phone = reader(crew)
    put(owner, made["id"], rank=3)
    owner.attempt()
    (row,) = phone.exchange().json["changes"]
    assert row["part"] is True
    assert row["fields"] == {"rank": 3}
    assert "at" not in row
    phone.sync()
    assert phone.state.items == crew.truth().items


def test_who_does_not_ask_for_parts_gets_none(crew: Crew):
    owner, hand, _ = crew.phones
    made = job("Keel")
    owner.do(made)
    owner.attempt()
    hand.attempt()
    put(owner, made["id"], rank=3)
    owner.attempt()
    (row,) = hand._send(2_000)["changes"]
    assert "part" not in row
    assert row["fields"]["title"] == "Keel"


def test_an_item_that_came_back_is_sent_whole_to_who_never_had_it(crew: Crew):
    """Hazard: it was deleted when the device came, so nothing of it is there."""
    owner, hand, _ = crew.phones
    made = job("Keel")
    owner.do(made)
    owner.attempt()
    hand.attempt()
    put(owner, made["id"], gone=True)
    owner.attempt()
    phone = reader(crew)
    assert made["id"] not in phone.state.items
    put(hand, made["id"], rank=3)
    hand.attempt()
    phone.sync()
    assert phone.state.items == crew.truth().items


def test_on_a_second_page_rows_are_whole(crew: Crew, monkeypatch: pytest.MonkeyPatch):
    """Hazard: a row is made before the second page's cursor and changed after it, and was on no page."""
    owner = crew.phones[0]
    phone = reader(crew)
    made = [job(str(number)) for number in range(6)]
    owner.do(*made)
    owner.attempt()
    put(owner, made[0]["id"], rank=3)
    owner.attempt()
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 4)
    phone.sync()
    assert phone.state.items == crew.truth().items


@pytest.mark.parametrize("seed", range(6))
def test_with_parts_a_device_ends_as_with_whole_rows(
    crew: Crew, monkeypatch: pytest.MonkeyPatch, seed: int
):
    chance = random.Random(seed)
    monkeypatch.setattr(sync_module, "PAGE_ROWS", chance.choice([2, 3, 50]))
    ids: list[str] = []
    readers = [reader(crew)]
    for _ in range(60):
        phone = chance.choice(crew.phones)
        known = [id_ for id_ in ids if id_ in phone.view().items]
        if not known or chance.random() < 0.2:
            made = job("new")
            ids.append(made["id"])
            phone.do(made)
        else:
            field: dict[str, Any] = chance.choice(
                [
                    {"rank": chance.random()},
                    {"title": f"t{chance.random()}"},
                    {"gone": True},
                    {"gone": False},
                ]
            )
            put(phone, chance.choice(known), **field)
        if chance.random() < 0.6:
            phone.attempt()
        if chance.random() < 0.1:
            readers.append(reader(crew))
        if chance.random() < 0.5:
            one = chance.choice(readers)
            one.take(one.exchange().json)
    for phone in (*crew.phones, *crew.phones):
        phone.attempt()
    truth = {id_: item for id_, item in crew.truth().items.items() if not item.gone}
    for one in readers:
        one.sync()
        assert {id_: item for id_, item in one.state.items.items() if not item.gone} == truth
    assert sum(one.parts for one in readers) > 0
