"""Loading everything, while requests are late and the phone goes on working."""

from __future__ import annotations

import pytest
from flask import Flask

from tackwatch.work import sync as sync_module
from tests.support.crew import Crew
from tests.support.phone import new_id
from tests.support.world import StandingClock


def test_a_first_request_that_arrives_late_takes_no_deletion_away(app: Flask, clock: StandingClock):
    """Hazard: the network delivers a request long after the phone gave it up and asked again."""
    crew = Crew.begin(app, clock, hands=1)
    owner, hand = crew.phones
    job = new_id()
    owner.do({"do": "create", "kind": "job", "id": job, "fields": {"title": "Leak"}})
    owner.attempt()
    late = hand.body()
    hand.attempt()
    assert not hand.item(job).gone
    owner.drop("job", job)
    owner.attempt()
    assert hand.call("POST", "/sync", body=late).status == 200
    hand.attempt()
    assert hand.item(job).gone


def test_a_row_that_two_changed_reaches_both_where_a_page_is_cut_before_it(
    app: Flask, clock: StandingClock, monkeypatch: pytest.MonkeyPatch
):
    """What others changed counts from when they did, not from when this phone changed the row again."""
    crew = Crew.begin(app, clock, hands=1)
    owner, hand = crew.phones
    job = owner.create("job", {"title": "Leak"})
    owner.attempt()
    hand.attempt()
    hand.set("job", job, {"text": "from the hand"})
    for number in range(4):
        hand.create("job", {"title": f"Job {number}"})
    hand.attempt()
    owner.set("job", job, {"afloat_ok": True})
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 2)
    owner.sync()
    assert owner.item(job) == crew.truth().items[job]


@pytest.mark.parametrize("aside", [True, False], ids=["aside", "at first"])
def test_whoever_loads_everything_is_sent_what_they_file_meanwhile(
    app: Flask, clock: StandingClock, monkeypatch: pytest.MonkeyPatch, aside: bool
):
    """A phone that loads aside cannot know whether a page came before or after its own operation."""
    crew = Crew.begin(app, clock, hands=0)
    (owner,) = crew.phones
    for _ in range(3):
        owner.create("job", {"title": "Leak"})
    owner.attempt()
    monkeypatch.setattr(sync_module, "PAGE_ROWS", 2)
    owner.cursor = 0
    if aside:
        owner.epoch = "before the restore"
    owner.attempt()
    job = owner.create("job", {"title": "Found meanwhile"})
    sent = []
    more = True
    while more:
        answer = owner.call("POST", "/sync", body={**owner.body(), "loading": aside}).json
        sent += [row["id"] for row in answer["changes"]]
        owner.take(answer)
        more = answer["more"]
    assert job in sent
