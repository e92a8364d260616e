"""What open streams want to know, for all of them in a few queries."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import select

from tackwatch.store.db import db
from tackwatch.store.models import Alarm, Device, Refit


def counters(refit_ids: Collection[str]) -> dict[str, int]:
    """Give the counter of each refit."""
    query = select(Refit.id, Refit.seq).where(Refit.id.in_(refit_ids))
    return {found[0]: found[1] for found in db.session.execute(query)}


def withdrawn(device_ids: Collection[str]) -> set[str]:
    """Give those devices whose key no longer works."""
    query = select(Device.id).where(Device.id.in_(device_ids), Device.revoked_at.is_not(None))
    return set(db.session.scalars(query))


def told_since(refit_ids: Collection[str], since: datetime) -> list[Alarm]:
    """Give the alarms of these refits that were told at or after an instant."""
    query = select(Alarm).where(Alarm.refit_id.in_(refit_ids), Alarm.told_at >= since)
    return list(db.session.scalars(query.order_by(Alarm.told_at, Alarm.id)))
