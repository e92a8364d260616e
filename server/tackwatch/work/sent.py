"""What one device has sent: for the owner, and for whoever used it, when the phone is lost or was wiped.

What is not in the list never arrived, and has to be written again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tackwatch.merge.values import is_id
from tackwatch.store import history, operations
from tackwatch.store.models import OperationRow
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotAllowedError, NotFoundError

PAGE = 50


@dataclass(frozen=True, slots=True)
class Sent:
    """How far a device came, and a page of its operations, newest first; ``more`` asks for those before the last.

    ``missing`` are the numbers, from and to, that were lost with a restored server and that the device no longer had.
    """

    device_id: str
    member_id: str
    name: str
    last_n: int
    last_received_at: datetime | None
    last_seen_at: datetime | None
    missing: tuple[dict[str, int], ...]
    operations: tuple[dict[str, Any], ...]
    more: bool


def sent_by(caller: Caller, device_id: str, before: int | None = None) -> Sent:
    """Give what a device has sent, of the operations with a number less than ``before`` if that is given.

    Raises
    ------
    NotAllowedError
        When it is the device of another member and the caller is not the owner.
    NotFoundError
        When the refit has no such device.
    """
    device = operations.device(caller.refit_id, device_id) if is_id(device_id) else None
    if device is None:
        raise NotFoundError("unknown-device", "There is no such device.")
    if caller.role != "owner" and device.member_id != caller.member_id:
        raise NotAllowedError("not-allowed", "Only the owner may look at another person's device.")
    last = history.sent_by(device_id, None, 1)
    rows = history.sent_by(device_id, before, PAGE + 1)
    return Sent(
        device_id=device.id,
        member_id=device.member_id,
        name=device.name,
        last_n=device.last_n,
        last_received_at=last[0].received_at if last else None,
        last_seen_at=device.last_seen_at,
        missing=tuple({"from": a, "to": b} for a, b in history.missing(device_id)),
        operations=tuple(_entry(row) for row in rows[:PAGE]),
        more=len(rows) > PAGE,
    )


def _entry(row: OperationRow) -> dict[str, Any]:
    return {
        "n": row.n,
        "at": row.at,
        "received_at": row.received_at,
        "act": row.act,
        "actions": row.actions,
        "problem": row.refusal,
    }
