"""The log of operations, read for one item."""

from __future__ import annotations

from sqlalchemy import String, cast, func, select

from tackwatch.store.db import db
from tackwatch.store.models import Device, OperationRow


def naming(refit_id: str, item_id: str, after: str, most: int) -> list[tuple[OperationRow, str]]:
    """Give up to ``most`` operations later than a stamp whose text holds an id, with their authors, oldest first.

    The database compares text only: the caller looks whether the id stands where it counts.
    """
    query = (
        select(OperationRow, Device.member_id)
        .join(Device, Device.id == OperationRow.device_id)
        .where(
            OperationRow.refit_id == refit_id,
            OperationRow.at > after,
            cast(OperationRow.actions, String).contains(item_id, autoescape=True),
        )
        .order_by(OperationRow.at)
        .limit(most)
    )
    return [(found[0], found[1]) for found in db.session.execute(query)]


def sent_by(device_id: str, before: int | None, most: int) -> list[OperationRow]:
    """Give up to ``most`` operations of a device, the last first, from below a number on if one is given."""
    query = select(OperationRow).where(OperationRow.device_id == device_id)
    if before is not None:
        query = query.where(OperationRow.n < before)
    return list(db.session.scalars(query.order_by(OperationRow.n.desc()).limit(most)))


def missing(device_id: str) -> list[tuple[int, int]]:
    """Give the runs of numbers, first and last, that a device's operations leave out, the first in front."""
    before = func.coalesce(func.lag(OperationRow.n).over(order_by=OperationRow.n), 0).label(
        "before"
    )
    numbers = select(OperationRow.n, before).where(OperationRow.device_id == device_id).subquery()
    query = select(numbers.c.before + 1, numbers.c.n - 1).where(numbers.c.n > numbers.c.before + 1)
    return [(first, last) for first, last in db.session.execute(query.order_by(numbers.c.n))]
