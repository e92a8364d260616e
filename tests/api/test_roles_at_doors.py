"""The table of roles at the doors: one test for each role and each door (docs/sync.md, section 6)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask

from tackwatch.work import snapshot as snapshot_module
from tests.api.roleyard import ALL, CREW, OWNER, PUSH, ROLES, Yard, yard_again
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.tables import dump
from tests.support.tus import Sending
from tests.support.wires import ClientWire
from tests.support.world import StandingClock


@pytest.fixture
def yard(app: Flask, wire: ClientWire, clock: StandingClock) -> Yard:
    return yard_again(app, wire, clock)


FRESH = {"proposal_id": "fresh"}
PNG = picture("PNG")
PHOTO = name_of(PNG)

Knock = Callable[[Phone, Yard], int]


def knock(method: str, below: str, **rest: Any) -> Knock:
    def go(phone: Phone, yard: Yard) -> int:
        return phone.call(method, below.format(**yard.ids), **rest).status

    return go


def past(code: str, method: str, below: str, **rest: Any) -> Knock:
    """Knock where nothing but the role is looked at before this yard's lack of something is told by that code."""

    def go(phone: Phone, yard: Yard) -> int:
        answer = phone.call(method, below, **rest)
        return 200 if answer.json["type"].endswith(f":{code}") else answer.status

    return go


DOORS: dict[str, tuple[set[str], Knock]] = {
    "sync": (ALL, lambda phone, _: phone.exchange().status),
    "ask for what is new": (ALL, lambda phone, _: _ask_for_news(phone)),
    "load a snapshot": (ALL, lambda phone, yard: _load_snapshot(phone, yard)),
    "see the work": (ALL, knock("GET", "/work")),
    "see the own alarms": (ALL, knock("GET", "/alarms")),
    "see the history": (ALL, knock("GET", "/history/job/{job}")),
    "ask whether a coat may go on": (ALL, knock("GET", "/steps/{step}/readiness")),
    "listen": (ALL, knock("GET", "/live")),
    "take pushes": (ALL, knock("PUT", "/push", body=PUSH)),
    "take no pushes": (ALL, knock("DELETE", "/push")),
    "invite": (OWNER, knock("POST", "/invites", body={"role": "hand", "name": "New"})),
    "list the invites": (OWNER, knock("GET", "/invites")),
    "take an invite back": (OWNER, knock("DELETE", "/invites/{invite}")),
    "withdraw the own key": (ALL, lambda phone, _: phone.call("DELETE", f"/devices/{phone.device_id}").status),
    "withdraw another's key": (OWNER, lambda phone, yard: _withdraw_other(phone, yard)),
    "see what the own phone sent": (ALL, lambda phone, _: _sent_by(phone, phone)),
    "see what another's phone sent": (OWNER, lambda phone, yard: _sent_by(phone, _another(phone, yard))),
    "see the own addresses": (ALL, knock("GET", "/addresses")),
    "give a mail address": (ALL, past("no-mail-here", "PUT", "/addresses/mail", body={"address": "a@yard.example"})),
    "confirm a mail address": (ALL, past("no-code-awaited", "POST", "/addresses/mail/confirm", body={"code": "1"})),
    "give a webhook": (ALL, past("unknown-webhook-host", "PUT", "/addresses/webhook", body={"url": "https://a.example/x"})),
    "make a link to the own calendar": (ALL, knock("POST", "/addresses/calendar")),
    "take an own address away": (ALL, lambda phone, _: _takes_away(phone, phone)),
    "take another's address away": (OWNER, lambda phone, yard: _takes_away(phone, _another(phone, yard))),
    "see which addresses another has": (OWNER, lambda phone, yard: _looks_at_ways(phone, _another(phone, yard))),
    "end the own phone's pushes": (ALL, lambda phone, _: _ends_pushes(phone, phone)),
    "end another's phone's pushes": (OWNER, lambda phone, yard: _ends_pushes(phone, _another(phone, yard))),
    "see how the alarms were rung": (OWNER, knock("GET", "/health")),
    "keep an own alarm": (ALL, past("unknown-alarm", "GET", "/alarms/coat.recoat_open.ics")),
    "ask for a plan": (OWNER, knock("POST", "/plans", body={})),
    "see the plans": (ALL, knock("GET", "/plans")),
    "see a plan": (ALL, past("unknown-plan", "GET", "/plans/none")),
    "call a plan off": (OWNER, past("unknown-plan", "POST", "/plans/none/cancel")),
    "give a plan to the crew": (OWNER, past("unknown-plan", "POST", "/plans/none/publish", body=FRESH)),
    "send a photo": (CREW, knock("PUT", f"/photos/{PHOTO}", content=PNG)),
    "begin to send a photo in pieces": (CREW, lambda phone, _: Sending(phone, PNG).begin().status),
    "go on sending a photo": (CREW, lambda phone, _: _go_on(phone)),
    "look at a photo": (ALL, lambda phone, yard: _look_at_photo(phone, yard)),
    "look at a photo drawn small": (ALL, lambda phone, yard: _look_at_photo(phone, yard, "/thumbnail")),
}  # fmt: skip


def _ask_for_news(phone: Phone) -> int:
    return phone.call("GET", f"/sync?epoch={phone.epoch}&cursor={phone.cursor}").status


def _load_snapshot(phone: Phone, yard: Yard) -> int:
    """Load a page of what the owner had prepared."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(snapshot_module, "WORTH_FROM", 1)
        everything = {**yard.owner.body(), "cursor": 0, "epoch": None, "snapshot": True}
        prepared = yard.owner.call("POST", "/sync", body=everything).json["snapshot"]
    return phone.call("GET", f"/snapshot/{prepared['version']}/0").status


def _another(phone: Phone, yard: Yard) -> Phone:
    return yard.phones["viewer" if phone is not yard.phones["viewer"] else "hand"]


def _takes_away(phone: Phone, other: Phone) -> int:
    return phone.call("DELETE", f"/members/{other.member_id}/addresses/calendar").status


def _looks_at_ways(phone: Phone, other: Phone) -> int:
    return phone.call("GET", f"/members/{other.member_id}/addresses").status


def _ends_pushes(phone: Phone, other: Phone) -> int:
    return phone.call("DELETE", f"/devices/{other.device_id}/push").status


def _withdraw_other(phone: Phone, yard: Yard) -> int:
    return phone.call("DELETE", f"/devices/{_another(phone, yard).device_id}").status


def _sent_by(phone: Phone, other: Phone) -> int:
    return phone.call("GET", f"/devices/{other.device_id}/sent").status


def _go_on(phone: Phone) -> int:
    sending = Sending(phone, PNG)
    sending.begin()
    return sending.go_on(0, 10).status


def _look_at_photo(phone: Phone, yard: Yard, how: str = "") -> int:
    yard.owner.call("PUT", f"/photos/{PHOTO}", content=PNG)
    return phone.call("GET", f"/photos/{PHOTO}{how}").status


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", DOORS)
def test_the_table_of_roles_holds_for_each_door(
    app: Flask, yard: Yard, name: str, role: str
) -> None:
    allowed, go = DOORS[name]
    app.extensions["tackwatch"].hub.stop_when(lambda: True)
    before = dump(app)
    status = go(yard.phones[role], yard)
    if role in allowed:
        assert status in (200, 201, 202, 204)
    else:
        assert status == 403
        assert dump(app) == before


def test_every_door_of_a_refit_is_in_the_table(app: Flask) -> None:
    doors = {
        (method, rule.rule)
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if "<refit_id>" in rule.rule and not rule.rule.endswith("/recover")
    }
    # the own, and another's: withdrawing a key, seeing what was sent, taking an address away, ending pushes
    twice = 4
    assert len(doors) == len(DOORS) - twice
