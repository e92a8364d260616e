"""A phone in Python: keeps an outbox, a copy of the rows and a cursor, makes stamps, and syncs.

It keeps to docs/sync.md: acknowledged operations are applied to the copy by the merge, since no echo is sent.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tackwatch.merge.apply import apply
from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.hlc import Stamp, parse, tick
from tackwatch.merge.operation import Operation
from tackwatch.merge.state import Difference, Item, Record, State
from tackwatch.remote.rows import all_seen, read_difference, read_row
from tests.support.wires import Answer, Wire, call

REFIT = {
    "name": "Wanderer",
    "time_zone": "Europe/Lisbon",
    "launch_at": "2026-04-01T08:00:00Z",
    "owner_name": "Olga",
    "language": "en",
}


def new_id() -> str:
    return str(uuid.uuid4())


@dataclass
class Phone:
    """One device of one refit."""

    wire: Wire
    refit_id: str
    member_id: str
    device_id: str
    key: str
    now_ms: Callable[[], int]
    recovery_code: str = ""
    state: State = field(default_factory=State)
    outbox: list[dict[str, Any]] = field(default_factory=list)
    sent: list[dict[str, Any]] = field(default_factory=list)
    refused: dict[int, dict[str, Any]] = field(default_factory=dict)
    last: Stamp | None = None
    next_n: int = 1
    cursor: int = 0
    epoch: str | None = None

    @classmethod
    def found(cls, wire: Wire, now_ms: Callable[[], int], **changes: Any) -> Phone:
        """Begin a refit; the phone is the owner's."""
        body = {**REFIT, "with_products": False, "device_name": "owner's phone", **changes}
        return cls._made(wire, now_ms, call(wire, "POST", "/api/refits", body=body))

    @classmethod
    def join(cls, wire: Wire, now_ms: Callable[[], int], token: str, name: str = "") -> Phone:
        """Come aboard with an invite's token."""
        body = {"token": token, "device_name": name}
        return cls._made(wire, now_ms, call(wire, "POST", "/api/invites/claim", body=body))

    @classmethod
    def _made(cls, wire: Wire, now_ms: Callable[[], int], answer: Answer) -> Phone:
        assert answer.status == 201, answer.content
        return cls(wire=wire, now_ms=now_ms, **answer.json)

    # --- the API -----------------------------------------------------------------------------------------------------

    def call(self, method: str, below: str, **rest: Any) -> Answer:
        """Send a request below the refit's own path."""
        rest.setdefault("key", self.key)
        return call(self.wire, method, f"/api/refits/{self.refit_id}{below}", **rest)

    def invite(self, role: str = "hand", name: str = "Hank", **rest: Any) -> str:
        """Invite somebody and give the token."""
        answer = self.call("POST", "/invites", body={"role": role, "name": name, **rest})
        assert answer.status == 201, answer.content
        return str(answer.json["token"])

    def crew(self, role: str, name: str = "") -> Phone:
        """Give the phone of a new member with this role."""
        token = self.invite(role, name or role.capitalize())
        return Phone.join(self.wire, self.now_ms, token, f"{role}'s phone")

    # --- acts --------------------------------------------------------------------------------------------------------

    def act(self, name: str, *actions: dict[str, Any]) -> dict[str, Any]:
        """Do something: one operation in the outbox."""
        self.last = tick(self.last, self.now_ms(), self.device_id)
        operation = {"n": self.next_n, "at": str(self.last), "act": name, "actions": list(actions)}
        self.next_n += 1
        self.outbox.append(operation)
        return operation

    def create(
        self, kind: str, fields: dict[str, Any], sets: dict[str, list[str]] | None = None
    ) -> str:
        id_ = new_id()
        action = {"do": "create", "kind": kind, "id": id_, "fields": fields, "sets": sets or {}}
        self.act(f"create_{kind}", action)
        return id_

    def set(
        self, kind: str, id_: str, fields: dict[str, Any], seen: dict[str, str] | None = None
    ) -> None:
        """Set fields, having seen what the copy holds unless ``seen`` says otherwise."""
        item = self.state.items.get(id_)
        if seen is None:
            seen = {name: item.stamp(name) for name in fields} if item is not None else {}
        self.act(
            "set_fields", {"do": "set", "kind": kind, "id": id_, "fields": fields, "seen": seen}
        )

    def drop(self, kind: str, id_: str) -> None:
        """Delete an item, having seen all of it that the copy holds."""
        self.set(kind, id_, {"gone": True}, all_seen(self.state.items[id_]))

    def record(self, kind: str, body: dict[str, Any], replaces: str | None = None) -> str:
        id_ = new_id()
        self.act(
            f"log_{kind}",
            {"do": "record", "kind": kind, "id": id_, "body": body, "replaces": replaces, "void": False},
        )  # fmt: skip
        return id_

    # --- sync --------------------------------------------------------------------------------------------------------

    def body(self) -> dict[str, Any]:
        """Give what one round trip would send now."""
        return {
            "protocol": 1,
            "schema": SCHEMA,
            "epoch": self.epoch,
            "device": self.device_id,
            "cursor": self.cursor,
            "operations": self.outbox[:2000],
        }

    def exchange(self) -> Answer:
        """Send the outbox and give the answer without taking it in."""
        return self.call("POST", "/sync", body=self.body())

    def sync(self) -> dict[str, Any]:
        """Make round trips until there is no more; give the last answer."""
        while True:
            answer = self.exchange()
            assert answer.status == 200, answer.content
            self.take(answer.json)
            if not answer.json["more"]:
                return dict(answer.json)

    def take(self, answer: Mapping[str, Any]) -> None:
        """Take an answer in."""
        if answer["reset"]:
            self.state = State()
        self.epoch = answer["epoch"]
        refused = {one["n"]: one["problem"] for one in answer["refused"]}
        self.refused |= refused
        for operation in [one for one in self.outbox if one["n"] <= answer["acknowledged_n"]]:
            self.outbox.remove(operation)
            self.sent.append(operation)
            if operation["n"] not in refused and not answer["reset"]:
                done = Operation(
                    operation["at"], self.device_id, operation["act"], operation["actions"]
                )
                self.state, _ = apply(self.state, done)
        rows = [read_row(row) for row in answer["changes"]]
        self.state = self.state.after(
            [row for row in rows if isinstance(row, Item)],
            [row for row in rows if isinstance(row, Record)],
            [read_difference(row) for row in answer["differences"]],
        )
        self.cursor = answer["cursor"]
        for text in (answer["clock"], *(row["at"] for row in answer["changes"])):
            stamp = parse(text)
            if self.last is None or (stamp.ms, stamp.counter) > (self.last.ms, self.last.counter):
                self.last = stamp

    def item(self, id_: str) -> Item:
        return self.state.items[id_]

    def open_differences(self) -> list[Difference]:
        return [one for one in self.state.differences.values() if one.settled is None]
