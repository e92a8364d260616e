"""Where a device takes pushes: one address per device."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db
from tackwatch.store.models import PushSubscription


def put(
    device_id: str, refit_id: str, member_id: str, address: dict[str, str], now: datetime
) -> None:
    """Keep a device's address (``endpoint``, ``p256dh``, ``auth``) in place of an earlier one."""
    insert = postgresql.insert if db.engine.dialect.name == "postgresql" else sqlite.insert
    values = {"refit_id": refit_id, "member_id": member_id, "created_at": now, **address}
    db.session.execute(
        insert(PushSubscription)
        .values(device_id=device_id, **values)
        .on_conflict_do_update(index_elements=["device_id"], set_=values)
    )


def drop(device_id: str) -> bool:
    """Forget a device's address; say whether there was one."""
    mine = delete(PushSubscription).where(PushSubscription.device_id == device_id)
    return bool(list(db.session.scalars(mine.returning(PushSubscription.device_id))))


def devices_of(refit_id: str, member_id: str) -> list[str]:
    """Give a member's devices that take pushes, in the order in which they said so."""
    query = (
        select(PushSubscription.device_id)
        .where(PushSubscription.refit_id == refit_id, PushSubscription.member_id == member_id)
        .order_by(PushSubscription.created_at, PushSubscription.device_id)
    )
    return list(db.session.scalars(query))
