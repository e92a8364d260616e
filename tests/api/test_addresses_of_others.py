"""An owner and the addresses of others: that they are there, taking one away, and the trace that it leaves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from tackwatch.settings import Settings, Smtp
from tests.api.test_addresses import TO, URL, code_in, confirm, give_mail, make_link, refused
from tests.support.mail_server import Post, mail_server
from tests.support.phone import Phone
from tests.support.push_receiver import PushReceiver, push_receiver
from tests.support.tables import dump
from tests.support.world import BEGAN_AT, StandingClock


@pytest.fixture
def post() -> Iterator[Post]:
    with mail_server() as (running, port):
        running.says["port"] = [str(port)]
        yield running


@pytest.fixture
def receiver() -> Iterator[PushReceiver]:
    with push_receiver() as running:
        yield running


@pytest.fixture
def settings(settings: Settings, post: Post) -> Settings:
    smtp = Smtp("127.0.0.1", int(post.says["port"][0]), "none", "bell@boat.example")
    return replace(settings, smtp=smtp, webhook_hosts=("hooks.example",), push_hosts=("127.0.0.1",))


def of(owner: Phone, whose: Phone) -> dict[str, Any]:
    answer = owner.call("GET", f"/members/{whose.member_id}/addresses")
    assert answer.status == 200, answer.content
    return dict(answer.json)


def take_away(by: Phone, whose: Phone, kind: str) -> int:
    return by.call("DELETE", f"/members/{whose.member_id}/addresses/{kind}").status


def subscribe(phone: Phone, receiver: PushReceiver) -> None:
    assert phone.call("PUT", "/push", body=receiver.subscribe(phone.device_id)).status == 204


def test_an_owner_sees_that_addresses_are_there_and_never_where_they_lead(
    owner: Phone, post: Post, receiver: PushReceiver
) -> None:
    hand = owner.crew("hand")
    give_mail(hand)
    hand.call("PUT", "/addresses/webhook", body={"url": URL})
    make_link(hand)
    subscribe(hand, receiver)
    answer = owner.call("GET", f"/members/{hand.member_id}/addresses")
    found = {one["kind"]: one["usable"] for one in answer.json["addresses"]}
    assert found == {"mail": False, "webhook": True, "calendar": True}
    assert answer.json["push_device_ids"] == [hand.device_id]
    said = answer.content.decode()
    for secret in (TO, URL, "whsec_", "127.0.0.1"):
        assert secret not in said


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_nobody_but_an_owner_sees_what_others_have(owner: Phone, role: str) -> None:
    other = owner.crew(role)
    assert other.call("GET", f"/members/{owner.member_id}/addresses").status == 403


def test_who_is_not_of_the_crew_has_none(owner: Phone) -> None:
    for nobody in ("nobody", owner.refit_id, owner.device_id):
        refused(
            owner.call("GET", f"/members/{nobody}/addresses"), 404, "member_id", "unknown-member"
        )


def test_what_an_owner_takes_away_leaves_a_trace_for_both(
    owner: Phone, post: Post, clock: StandingClock
) -> None:
    hand = owner.crew("hand")
    give_mail(hand)
    confirm(hand, code_in(post))
    clock.forward(minutes=3)
    assert take_away(owner, hand, "mail") == 204
    trace = {
        "kind": "mail",
        "phone_id": None,
        "by_member_id": owner.member_id,
        "removed_at": clock.at.isoformat(),
    }
    assert clock.at > BEGAN_AT
    assert of(owner, hand) == {"addresses": [], "push_device_ids": [], "removed": [trace]}
    theirs = hand.call("GET", "/addresses").json
    assert (theirs["addresses"], theirs["removed"]) == ([], [trace])


def test_what_one_takes_away_oneself_or_what_is_not_there_leaves_none(owner: Phone) -> None:
    hand = owner.crew("hand")
    make_link(hand)
    assert take_away(hand, hand, "calendar") == 204
    assert take_away(owner, hand, "calendar") == 204
    assert of(owner, hand)["removed"] == []


def test_an_owner_ends_the_pushes_of_anothers_phone(
    owner: Phone, receiver: PushReceiver, clock: StandingClock
) -> None:
    hand = owner.crew("hand")
    subscribe(hand, receiver)
    assert owner.call("DELETE", f"/devices/{hand.device_id}/push").status == 204
    found = of(owner, hand)
    assert found["push_device_ids"] == []
    (trace,) = found["removed"]
    assert (trace["kind"], trace["phone_id"]) == ("push", hand.device_id)
    assert owner.call("DELETE", f"/devices/{hand.device_id}/push").status == 204
    assert len(of(owner, hand)["removed"]) == 1
    subscribe(hand, receiver)  # it may take pushes again: its key holds
    assert of(owner, hand)["push_device_ids"] == [hand.device_id]


def test_nobody_else_ends_pushes_of_others_and_everybody_their_own(
    app: Any, owner: Phone, receiver: PushReceiver
) -> None:
    hand, other = owner.crew("hand"), owner.crew("hand")
    subscribe(hand, receiver)
    before = dump(app)
    refused(other.call("DELETE", f"/devices/{hand.device_id}/push"), 403, None, "not-allowed")
    refused(other.call("DELETE", "/devices/abcdefghjkmn/push"), 404, "device_id", "unknown-device")
    assert dump(app)["push_subscription"] == before["push_subscription"]
    assert hand.call("DELETE", f"/devices/{hand.device_id}/push").status == 204
    assert of(owner, hand) == {"addresses": [], "push_device_ids": [], "removed": []}


def test_an_owner_of_another_refit_reaches_nothing_here(
    owner: Phone, receiver: PushReceiver, clock: StandingClock
) -> None:
    hand = owner.crew("hand")
    make_link(hand)
    subscribe(hand, receiver)
    stranger = Phone.found(owner.wire, lambda: clock.ms)
    assert stranger.call("GET", f"/members/{hand.member_id}/addresses").status == 404
    assert stranger.call("DELETE", f"/devices/{hand.device_id}/push").status == 404
    assert take_away(stranger, hand, "calendar") == 204  # nothing there, in that refit
    found = of(owner, hand)
    assert (len(found["addresses"]), found["push_device_ids"]) == (1, [hand.device_id])
