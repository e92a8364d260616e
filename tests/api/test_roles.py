"""The table of roles: one test for each role and each thing that can be done (docs/sync.md, section 6)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from flask import Flask

from tackwatch.work import snapshot as snapshot_module
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.tables import Snapshot, dump, empty
from tests.support.tus import Sending
from tests.support.wires import ClientWire
from tests.support.world import StandingClock

ROLES = ("owner", "hand", "viewer")
OWNER, CREW, ALL, NONE = {"owner"}, {"owner", "hand"}, set(ROLES), set[str]()
PROFILE = {"id": "anything"}
AT = "2026-03-02T08:00:00Z"


@dataclass
class Yard:
    """A refit with things in it, and a phone for each role; ``other`` is a member without a phone."""

    phones: dict[str, Phone]
    other: str
    ids: dict[str, str] = field(default_factory=dict)

    @property
    def owner(self) -> Phone:
        return self.phones["owner"]


_built: list[tuple[Snapshot, Yard]] = []


@pytest.fixture
def yard(app: Flask, wire: ClientWire, clock: StandingClock) -> Yard:
    """The same yard for each test: built once, then put back row by row."""
    if not _built:
        made = _build(Phone.found(wire, lambda: clock.ms))
        _built.append((Snapshot.take(app), made))
        empty(app)
    snapshot, made = _built[0]
    snapshot.put_back(app)
    phones = {
        role: replace(phone, wire=wire, now_ms=lambda: clock.ms, outbox=[], sent=[], refused={})
        for role, phone in made.phones.items()
    }
    return Yard(phones, made.other, dict(made.ids))


def _build(owner: Phone) -> Yard:
    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Another"}).json
    phones = {"owner": owner, "hand": owner.crew("hand"), "viewer": owner.crew("viewer")}
    yard = Yard(phones, made["member_id"])
    yard.ids["invite"] = made["invite_id"]
    owner.sync()
    zone = yard.ids["zone"] = owner.create("zone", {"name": "Port hull"})
    job = yard.ids["job"] = owner.create("job", {"title": "Antifouling", "zone_id": zone})
    product = yard.ids["product"] = owner.create("product", {"name": "Paint", "profile": PROFILE})
    for name in ("step", "second_step"):
        fields = {"job_id": job, "kind": "coat", "product_id": product}
        yard.ids[name] = owner.create("step", fields, {"assignees": [yard.other]})
    yard.ids["link"] = owner.create(
        "link", {"step_id": yard.ids["second_step"], "after_id": yard.ids["step"]}
    )
    yard.ids["skill"] = owner.create("skill", {"name": "Gelcoat"})
    yard.ids["away"] = owner.create("away", {**AWAY, "member_id": yard.other})
    for name in ("application", "second_application"):
        yard.ids[name] = owner.record("application", _application(yard.ids))
    assert owner.sync()["refused"] == []
    for phone in phones.values():
        phone.sync()
    return yard


def _application(ids: dict[str, str]) -> dict[str, Any]:
    return {
        "step_id": ids["step"], "product_id": ids["product"], "profile": PROFILE, "start_at": AT,
    }  # fmt: skip


# --- acts by sync ----------------------------------------------------------------------------------------------------

AWAY = {"from_on": "2026-04-01", "to_on": "2026-04-03"}
Act = Callable[[Phone, Yard], object]


def create(kind: str, fields: Callable[[dict[str, str]], dict[str, Any]]) -> Act:
    return lambda phone, yard: phone.create(kind, fields(yard.ids))


def edit(kind: str, fields: dict[str, Any]) -> Act:
    return lambda phone, yard: phone.set(kind, yard.ids[kind], fields)


def drop(kind: str) -> Act:
    return lambda phone, yard: phone.drop(kind, yard.ids[kind])


def record(kind: str, body: Callable[[Phone, Yard], dict[str, Any]]) -> Act:
    return lambda phone, yard: phone.record(kind, body(phone, yard))


def refit_field(name: str, value: Any) -> Act:
    return lambda phone, yard: phone.set("refit", phone.refit_id, {name: value})


def own(name: str, value: Any) -> Act:
    return lambda phone, yard: phone.set("member", phone.member_id, {name: value})


def others(name: str, value: Any) -> Act:
    return lambda phone, yard: phone.set("member", yard.other, {name: value})


def assign(do: str) -> Act:
    def act(phone: Phone, yard: Yard) -> None:
        step = phone.item(yard.ids["step"])
        action = {
            "do": do, "kind": "step", "id": step.id, "set": "assignees", "member": yard.other,
        }  # fmt: skip
        if do == "take_out":
            action["tags"] = list(step.sets["assignees"][yard.other])
        phone.act(do, action)

    return act


def settle(kind: str, name: str, first: Any, second: Any) -> Act:
    """Let two owner's devices disagree on a field, then settle it with the phone in question."""

    def act(phone: Phone, yard: Yard) -> None:
        owner = yard.owner
        id_ = yard.ids.get(kind) or (owner.refit_id if kind == "refit" else yard.other)
        made = owner.call("POST", "/invites", body={"member_id": owner.member_id}).json
        laptop = Phone.join(owner.wire, owner.now_ms, made["token"])
        laptop.sync()
        owner.set(kind, id_, {name: first})
        laptop.set(kind, id_, {name: second})
        owner.sync(), laptop.sync(), phone.sync()
        assert [one.field for one in phone.open_differences()] == [name]
        ids = [one.id for one in phone.open_differences()]
        phone.act("settle", {"do": "settle", "differences": ids})

    return act


def mark(what: str) -> Act:
    return record(
        "mark", lambda _, yard: {"step_id": yard.ids["step"], "mark": what, "marked_at": AT}
    )


def _put_in(phone: Phone, kind: str, id_: str, yard: Yard) -> None:
    action = {"do": "put_in", "kind": kind, "id": id_, "set": "skills", "member": yard.ids["skill"]}
    phone.act("put_in", action)


def _give_away(phone: Phone, yard: Yard) -> None:
    """Make an absence of one's own, and hand it to somebody else."""
    id_ = phone.create("away", {**AWAY, "member_id": phone.member_id})
    phone.sync()
    phone.set("away", id_, {"member_id": yard.other})


SYNC_ACTS: dict[str, tuple[set[str], Act]] = {
    "rename the refit": (OWNER, refit_field("name", "Petrel")),
    "move the launch": (OWNER, refit_field("launch_at", "2026-05-01T08:00:00Z")),
    "change the day": (OWNER, refit_field("day_starts", "07:00")),
    "change the temperature curve": (OWNER, refit_field("curve_max_c", 25)),
    "make a second refit": (
        NONE,
        create("refit", lambda _: {"name": "B", "time_zone": "UTC", "launch_at": AT}),
    ),
    "make a member": (NONE, create("member", lambda _: {"name": "X", "role": "hand"})),
    "make a device": (
        NONE,
        lambda phone, yard: phone.create("device", {"member_id": phone.member_id}),
    ),
    "rename a device": (
        NONE,
        lambda phone, yard: phone.set("device", phone.device_id, {"name": "mine"}),
    ),
    "bring back a withdrawn device": (
        NONE,
        lambda phone, yard: phone.set("device", phone.device_id, {"revoked": False}),
    ),
    "change the own name": (ALL, own("name", "Newname")),
    "change the own language": (ALL, own("language", "es")),
    "change the own recoat lead": (ALL, own("recoat_lead_min", 30)),
    "change the own pot lead": (ALL, own("pot_lead_min", 3)),
    "give oneself another role": (
        NONE,  # nor may the owner, who is the last one
        own("role", "hand"),
    ),
    "give another member another role": (OWNER, others("role", "owner")),
    "rename another member": (OWNER, others("name", "Renamed")),
    "delete a member": (
        OWNER,
        lambda phone, yard: phone.drop("member", yard.other),
    ),
    "make a zone": (CREW, create("zone", lambda _: {"name": "Deck"})),
    "make a job": (CREW, create("job", lambda _: {"title": "Fair"})),
    "make a step": (CREW, create("step", lambda ids: {"job_id": ids["job"], "kind": "sand"})),
    "make a link": (
        CREW,
        create("link", lambda ids: {"step_id": ids["step"], "after_id": ids["second_step"]}),
    ),
    "make a product": (CREW, create("product", lambda _: {"name": "P", "profile": PROFILE})),
    "edit a zone": (CREW, edit("zone", {"area_m2": 4})),
    "edit a job": (CREW, edit("job", {"afloat_ok": True})),
    "edit a step": (CREW, edit("step", {"held": "parts"})),
    "edit a link": (CREW, edit("link", {"min_gap_s": 60})),
    "edit a product": (CREW, edit("product", {"name": "Other"})),
    "make a skill": (CREW, create("skill", lambda _: {"name": "Gelcoat"})),
    "edit a skill": (CREW, edit("skill", {"name": "Topcoat"})),
    "delete a skill": (OWNER, drop("skill")),
    "ask a skill of a step": (
        CREW,
        lambda phone, yard: _put_in(phone, "step", yard.ids["step"], yard),
    ),
    "say that one has a skill": (
        OWNER,
        lambda phone, yard: _put_in(phone, "member", phone.member_id, yard),
    ),
    "say that another has a skill": (
        OWNER,
        lambda phone, yard: _put_in(phone, "member", yard.other, yard),
    ),
    "change the own hours": (CREW, own("day_starts", "07:00")),
    "change the own working days": (CREW, own("work_days", "1246")),
    "change another's hours": (OWNER, others("day_ends", "15:00")),
    "change the own rate": (OWNER, own("day_rate", 120)),
    "change the refit's working days": (OWNER, refit_field("work_days", "123456")),
    "say that one is away": (
        CREW,
        lambda phone, _: phone.create("away", {**AWAY, "member_id": phone.member_id}),
    ),
    "say that another is away": (
        OWNER,
        lambda phone, yard: phone.create("away", {**AWAY, "member_id": yard.other}),
    ),
    "shut the yard": (OWNER, create("away", lambda _: AWAY)),
    "change when another is away": (OWNER, edit("away", {"to_on": "2026-04-09"})),
    "give an absence to another": (OWNER, lambda phone, yard: _give_away(phone, yard)),
    "take back that another is away": (OWNER, drop("away")),
    "settle a difference on an absence of another": (OWNER, settle("away", "text", "A", "B")),
    "delete a zone": (OWNER, drop("zone")),
    "delete a job": (OWNER, drop("job")),
    "delete a step": (OWNER, drop("step")),
    "delete a link": (OWNER, drop("link")),
    "delete a product": (OWNER, drop("product")),
    "put somebody on a step": (CREW, assign("put_in")),
    "take somebody off a step": (CREW, assign("take_out")),
    "log a coat": (CREW, record("application", lambda _, yard: _application(yard.ids))),
    "log a pot": (
        CREW,
        record(
            "mix",
            lambda _, yard: {
                "product_id": yard.ids["product"],
                "profile": PROFILE,
                "stirred_at": AT,
            },
        ),
    ),
    "log a reading": (CREW, record("reading", lambda *_: {"taken_at": AT, "air_c": 12})),
    "write a note": (CREW, record("note", lambda *_: {"text": "soft timber"})),
    "log a photo": (CREW, record("photo", lambda *_: {"sha256": "0" * 64, "size_b": 10})),
    "log hours": (
        CREW,
        record(
            "hours",
            lambda phone, _: {
                "member_id": phone.member_id,
                "worked_on": "2026-03-02",
                "minutes": 60,
            },
        ),
    ),
    "keep a sum": (
        CREW,
        record(
            "sum",
            lambda _, yard: {
                "name": "dew_point",
                "takes": {"air_c": 20.0, "rh_pct": 60.0},
                "gives": {"dew_point_c": 12.0},
                "step_id": yard.ids["step"],
            },
        ),
    ),
    "mark a step started": (CREW, mark("started")),
    "mark a step finished": (CREW, mark("finished")),
    "mark a step reopened": (CREW, mark("reopened")),
    "sign a step off": (OWNER, mark("signed_off")),
    "answer whether two coats are one": (
        CREW,
        record(
            "answer",
            lambda _, yard: {
                "first_id": yard.ids["application"],
                "second_id": yard.ids["second_application"],
                "answer": "one_coat",
            },
        ),
    ),
    "mark an own alarm as seen": (
        ALL,
        record("seen", lambda *_: {"alarm_id": "a.pot_ends", "seen_at": AT}),
    ),
    "settle a difference on a job": (CREW, settle("job", "title", "A", "B")),
    "settle a difference on the refit": (OWNER, settle("refit", "name", "A", "B")),
    "settle a difference on a member": (OWNER, settle("member", "name", "A", "B")),
}


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", SYNC_ACTS)
def test_the_table_of_roles_holds_for_each_act(
    app: Flask, yard: Yard, name: str, role: str
) -> None:
    allowed, act = SYNC_ACTS[name]
    phone = yard.phones[role]
    act(phone, yard)
    n = phone.outbox[-1]["n"]
    before = _rows(app)
    phone.sync()
    if role in allowed:
        assert n not in phone.refused, phone.refused
        assert _rows(app) != before
    else:
        code = phone.refused[n]["type"].rsplit(":", 1)[1]
        assert code == ("last-owner" if (name, role) == _LAST_OWNER else "not-allowed")
        assert phone.refused[n]["status"] in (403, 422)
        assert _rows(app) == before


_LAST_OWNER = ("give oneself another role", "owner")


def test_the_role_is_read_in_the_state_that_earlier_operations_left(owner: Phone) -> None:
    hand = owner.crew("hand")
    hand.create("zone", {"name": "Made as a hand"})
    hand.sync()
    owner.sync()
    owner.set("member", hand.member_id, {"role": "viewer"})
    owner.sync()
    hand.create("zone", {"name": "Made as a viewer"})
    assert [one["problem"]["status"] for one in hand.sync()["refused"]] == [403]


def _rows(app: Flask) -> dict[str, list[dict[str, Any]]]:
    tables = dump(app)
    return {name: tables[name] for name in ("item", "record", "difference")}


# --- doors -----------------------------------------------------------------------------------------------------------

FRESH = {"proposal_id": "fresh"}
PNG = picture("PNG")
PHOTO = name_of(PNG)
PUSH = {
    "endpoint": "https://updates.push.services.mozilla.com/wpush/v2/x",
    "p256dh": "BPbdquNBWf9dtdPoCoajVbCj0VPo_WzieCJmtVhdQrwDX-eXED9J2Nrh6eu1AOLOEumhJZn2kaivo1UCNGRP3so",
    "auth": "AAAAAAAAAAAAAAAAAAAAAA",
}

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
