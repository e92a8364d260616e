"""The log of operations, and how far each device has come."""

from __future__ import annotations

from typing import Any

from sqlalchemy import insert, select

from tackwatch.store.db import db
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


def log(rows: list[dict[str, Any]]) -> None:
    """Add operations to the log."""
    if rows:
        db.session.execute(insert(OperationRow), rows)


def refusals(device_id: str, first_n: int, last_n: int) -> list[tuple[int, dict[str, Any]]]:
    """Give the verdicts against operations ``first_n`` to ``last_n`` of a device."""
    query = select(OperationRow.n, OperationRow.refusal).where(
        OperationRow.device_id == device_id, OperationRow.n >= first_n, OperationRow.n <= last_n
    )
    found = db.session.execute(query.order_by(OperationRow.n))
    return [(n, refusal) for n, refusal in found if refusal is not None]
