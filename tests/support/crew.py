"""A whole crew in one process: a refit on the server under test, and a phone with bad luck for each of its people."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from flask import Flask
from sqlalchemy import select

from tackwatch.merge.apply import apply
from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.operation import Operation
from tackwatch.merge.state import State
from tackwatch.store import rows
from tackwatch.store.db import db
from tackwatch.store.models import DifferenceRow, ItemRow, OperationRow, RecordRow
from tests.support.phone import Phone
from tests.support.wires import ClientWire
from tests.support.world import StandingClock


@dataclass
class UnluckyPhone(Phone):
    """A phone whose line fails and whose clock may be wrong by ``clock_off_ms``."""

    clock_off_ms: int = 0
    everything: list[dict[str, Any]] = field(default_factory=list)
    confirmed: set[str] = field(default_factory=set)

    def do(self, *actions: Mapping[str, Any]) -> None:
        """Do something without asking anybody."""
        self.everything.append(self.act("test", *(dict(action) for action in actions)))

    def view(self) -> State:
        """Give what the person sees: the stored copy with the outbox on top."""
        state = self.state
        for one in self.outbox:
            filed = Operation(one["at"], self.device_id, one["act"], one["actions"])
            try:
                state = apply(state, filed)[0]
            except RefusedError:
                continue
        return state

    def attempt(self, fault: str = "", most: int = 2_000) -> None:
        """Make one round trip with at most one thing going wrong on the way."""
        if fault == "request_lost":
            return
        answer = self._send(most)
        if fault == "answer_lost":
            return
        self.take(self._send(most) if fault == "sent_twice" else answer)

    def take(self, answer: Mapping[str, Any]) -> None:
        """Take an answer in; only the server says which differences there are."""
        super().take(answer)
        self.confirmed |= {row["id"] for row in answer["differences"]}
        known = {id_: one for id_, one in self.state.differences.items() if id_ in self.confirmed}
        self.state = State(self.state.items, self.state.records, known)

    def _send(self, most: int) -> dict[str, Any]:
        request = {
            "protocol": 1,
            "schema": SCHEMA,
            "epoch": self.epoch,
            "device": self.device_id,
            "cursor": self.cursor,
            "operations": self.outbox[:most],
        }
        answer = self.call("POST", "/sync", body=request)
        assert answer.status == 200, answer.content
        return dict(answer.json)


@dataclass
class Crew:
    """The refit with its phones, the owner's first, all with clocks of their own around the server's."""

    app: Flask
    clock: StandingClock
    phones: list[UnluckyPhone]

    @classmethod
    def begin(cls, app: Flask, clock: StandingClock, hands: int) -> Crew:
        """Begin a refit with an owner and some hands."""
        wire = ClientWire(app.test_client())
        owner = UnluckyPhone.found(wire, lambda: clock.ms)
        phones = [
            owner,
            *(UnluckyPhone.join(wire, lambda: clock.ms, owner.invite()) for _ in range(hands)),
        ]
        crew = cls(app, clock, [phone for phone in phones if isinstance(phone, UnluckyPhone)])
        for phone in crew.phones:
            phone.now_ms = crew._clock_of(phone)
        return crew

    def _clock_of(self, phone: UnluckyPhone) -> Any:
        def now_ms() -> int:
            self.clock.forward(milliseconds=1)
            return max(0, self.clock.ms + phone.clock_off_ms)

        return now_ms

    @property
    def refit_id(self) -> str:
        return self.phones[0].refit_id

    def truth(self) -> State:
        """Give every row that the server holds."""
        with self.app.app_context():
            ids = [
                id_
                for model in (ItemRow, RecordRow, DifferenceRow)
                for id_ in db.session.scalars(
                    select(model.id).where(model.refit_id == self.refit_id)
                )
            ]
            return rows.load(self.refit_id, ids)

    def log(self) -> list[dict[str, Any]]:
        """Give the operations that the server has filed, each device's in its order."""
        query = select(OperationRow).where(OperationRow.refit_id == self.refit_id)
        names = ("device_id", "n", "sent", "at", "actions", "refusal")
        with self.app.app_context():
            found = db.session.scalars(query.order_by(OperationRow.device_id, OperationRow.n))
            return [{name: getattr(row, name) for name in names} for row in found]
