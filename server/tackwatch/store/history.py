"""The log of operations, read for one item."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import String, cast, select

from tackwatch.store.db import db
from tackwatch.store.models import Device, OperationRow

_BATCH = 500


def naming(refit_id: str, item_id: str, after: str) -> Iterator[tuple[OperationRow, str]]:
    """Give operations later than a stamp whose text holds an id, each with its author, oldest first.

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
        .execution_options(yield_per=_BATCH)
    )
    for found in db.session.execute(query):
        yield found[0], found[1]
