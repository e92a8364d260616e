"""A served refit in which a painter sees nothing: what they are told goes to a mate, and then to the owner."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from tackwatch.trade.warnings import iso_of
from tests.support.phone import Phone
from tests.support.wires import HttpWire

NAMES = ("painter", "mate", "owner")
Subscribe = Callable[[str], Mapping[str, str]]


class HandedOn:
    """The crew, with a phone each that takes pushes.

    Parameters
    ----------
    address
        Where the refit is served.
    subscribe
        Gives the push address of a phone, by whose it is.
    unseen_s
        After how long unseen it goes on.
    """

    def __init__(self, address: str, subscribe: Subscribe, unseen_s: float) -> None:
        wire = HttpWire(address)
        launch_at = iso_of(datetime.now(UTC) + timedelta(days=90))
        self.owner = Phone.found(wire, _now_ms, launch_at=launch_at)
        self.painter = self.owner.crew("hand", "Painter")
        self.mate = self.owner.crew("hand", "Mate")
        self.owner.sync()
        self.crew = dict(zip(NAMES, (self.painter, self.mate, self.owner), strict=True))
        for name, phone in self.crew.items():
            answer = phone.call("PUT", "/push", body=dict(subscribe(name)))
            assert answer.status == 204, answer.content
        rule = {
            "member_id": self.painter.member_id, "next_member_id": self.mate.member_id,
            "unseen_min": unseen_s / 60, "walk_min": 0,
        }  # fmt: skip
        self.owner.create("ring_rule", rule)
        self.owner.sync()

    def plan(self, count: int, start_at: datetime) -> list[str]:
        """Give the painter so many steps that begin then; give the ids of what they are told of that."""
        job = self.owner.create("job", {"title": "Topsides"})
        fields = {"job_id": job, "kind": "sand", "planned_start_at": iso_of(start_at)}
        who = {"assignees": [self.painter.member_id]}
        steps = [self.owner.create("step", fields, who) for _ in range(count)]
        self.owner.sync()
        assert not self.owner.refused
        return [f"{step}.step_due" for step in steps]

    def traces(self) -> dict[str, list[tuple[str, datetime]]]:
        """Give who was told of each alarm, and when, as the owner sees it."""
        names = {phone.member_id: name for name, phone in self.crew.items()}
        listed: list[dict[str, Any]] = self.owner.call("GET", "/alarms").json["alarms"]
        return {
            one["alarm_id"]: [
                (names[told["member_id"]], datetime.fromisoformat(told["told_at"]))
                for told in one["trace"]
            ]
            for one in listed
        }


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
