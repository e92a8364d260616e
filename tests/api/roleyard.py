"""A refit with things in it and a phone for each role, for the tests of who may do what."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from flask import Flask

from tests.support.phone import Phone
from tests.support.tables import Snapshot, empty
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


def yard_again(app: Flask, wire: ClientWire, clock: StandingClock) -> Yard:
    """Give the same yard for each test: built once, then put back row by row."""
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
        yard.ids[name] = owner.record("application", application(yard.ids))
    assert owner.sync()["refused"] == []
    for phone in phones.values():
        phone.sync()
    return yard


def application(ids: dict[str, str]) -> dict[str, Any]:
    return {
        "step_id": ids["step"], "product_id": ids["product"], "profile": PROFILE, "start_at": AT,
    }  # fmt: skip


AWAY = {"from_on": "2026-04-01", "to_on": "2026-04-03"}
PUSH = {
    "endpoint": "https://updates.push.services.mozilla.com/wpush/v2/x",
    "p256dh": "BPbdquNBWf9dtdPoCoajVbCj0VPo_WzieCJmtVhdQrwDX-eXED9J2Nrh6eu1AOLOEumhJZn2kaivo1UCNGRP3so",
    "auth": "AAAAAAAAAAAAAAAAAAAAAA",
}
