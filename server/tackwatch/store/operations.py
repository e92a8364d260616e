"""The log of operations, and how far each device has come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Text, cast, select

from tackwatch.merge.state import Tagged
from tackwatch.merge.text import storable_text
from tackwatch.store import bulk
from tackwatch.store.db import Instant, db
from tackwatch.store.models import Device, OperationRow


def device(refit_id: str, device_id: str) -> Device | None:
    """Give a device of a refit, read anew."""
    query = select(Device).where(Device.id == device_id, Device.refit_id == refit_id)
    return db.session.scalars(query.execution_options(populate_existing=True)).one_or_none()


def devices_of(refit_id: str, member_id: str) -> list[Device]:
    """Give the devices of a member whose keys still work."""
    query = select(Device).where(
        Device.refit_id == refit_id, Device.member_id == member_id, Device.revoked_at.is_(None)
    )
    return list(db.session.scalars(query))


@dataclass(frozen=True, slots=True)
class Logged:
    """An operation of a device for the log: as it was sent, the stamp it is filed under, and the verdict.

    ``actions`` is a text of JSON.
    """

    n: int
    sent: str
    at: str
    act: str
    actions: str
    refusal: dict[str, Any] | None


_LOG = (
    *("refit_id", "device_id", "received_at"),
    *("n", "sent", "at", "act", "actions", "refusal"),
)


def log(device: Device, received_at: datetime, operations: Sequence[Logged]) -> None:
    """Add a device's operations to the log."""
    at_ms = Instant().process_bind_param(received_at, None)
    head = device.refit_id, device.id, at_ms
    rows = [
        (*head, one.n, one.sent, one.at, one.act, one.actions, _verdict(one.refusal))
        for one in operations
    ]
    bulk.insert(OperationRow, _LOG, rows)


def taken_out_after(refit_id: str, at: str) -> frozenset[Tagged]:
    """Give what was taken out of sets by operations that are filed after a stamp."""
    query = select(OperationRow.actions, OperationRow.refusal).where(
        OperationRow.refit_id == refit_id,
        OperationRow.at > at,
        cast(OperationRow.actions, Text).contains('"take_out"'),
    )
    taken = (actions for actions, refusal in db.session.execute(query) if refusal is None)
    return frozenset(tagged for actions in taken for tagged in _taken_out(actions))


def _taken_out(actions: Sequence[dict[str, Any]]) -> Iterator[Tagged]:
    for action in actions:
        if action["do"] == "take_out":
            for tag in action["tags"]:
                yield action["id"], action["set"], action["member"], tag


def _verdict(refusal: dict[str, Any] | None) -> str:
    return "null" if refusal is None else storable_text(refusal)


def refusals(device_id: str, first_n: int, last_n: int) -> list[tuple[int, dict[str, Any]]]:
    """Give the verdicts against operations ``first_n`` to ``last_n`` of a device."""
    query = select(OperationRow.n, OperationRow.refusal).where(
        OperationRow.device_id == device_id, OperationRow.n >= first_n, OperationRow.n <= last_n
    )
    found = db.session.execute(query.order_by(OperationRow.n))
    return [(n, refusal) for n, refusal in found if refusal is not None]
