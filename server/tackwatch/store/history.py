"""The log of operations, read for one item."""

from __future__ import annotations

from sqlalchemy import String, cast, select

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
