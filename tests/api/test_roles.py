"""The table of roles: one test for each role and each act (docs/sync.md, section 6)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask

from tests.api.roleyard import (
    ALL,
    AT,
    AWAY,
    CREW,
    NONE,
    OWNER,
    PROFILE,
    ROLES,
    Yard,
    application,
    yard_again,
)
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.wires import ClientWire
from tests.support.world import StandingClock


@pytest.fixture
def yard(app: Flask, wire: ClientWire, clock: StandingClock) -> Yard:
    return yard_again(app, wire, clock)


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
    "log a coat": (CREW, record("application", lambda _, yard: application(yard.ids))),
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
