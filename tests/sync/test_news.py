"""Asking for what is new with nothing to say: a few bytes where there is nothing; on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask

from tests.support.crew import Crew
from tests.support.phone import Phone
from tests.support.wires import Answer
from tests.support.world import StandingClock
from tests.sync.test_snapshot import grow, job


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    return Crew.begin(app, clock, hands=1)


def test_nothing_new_is_said_without_a_word(crew: Crew):
    owner, hand = crew.phones
    grow(crew, 3)
    hand.attempt()
    quiet = _news(hand)
    assert (quiet.status, quiet.content) == (204, b"")
    assert "content-type" not in quiet.headers
    owner.do(job("new"))
    owner.attempt()
    answer = _news(hand)
    assert answer.status == 200
    hand.take(answer.json)
    assert hand.state.items == crew.truth().items
    assert _news(hand).status == 204


def test_who_lost_the_place_hears_it_also_without_a_word_to_say(crew: Crew):
    hand = crew.phones[1]
    hand.attempt()
    for place in ({"epoch": "another"}, {"cursor": hand.cursor + 1}):
        assert _news(hand, **place).json["reset"] is True


@pytest.mark.parametrize(
    ("place", "field"),
    [({"cursor": 0}, "cursor"), ({"cursor": "x"}, "cursor"), ({"epoch": ""}, "epoch")],
)
def test_a_place_that_is_none_is_refused(crew: Crew, place: dict[str, Any], field: str):
    answer = _news(crew.phones[0], **place)
    assert answer.status == 422
    assert answer.json["field"] == field


def _news(phone: Phone, **changes: Any) -> Answer:
    place = {"epoch": phone.epoch or "none", "cursor": phone.cursor or 1, **changes}
    return phone.call("GET", f"/sync?epoch={place['epoch']}&cursor={place['cursor']}")
