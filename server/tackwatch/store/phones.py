"""Where a person's phones take pushes, and whether anybody is there at all."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete, exists, select

from tackwatch.store.db import db
from tackwatch.store.models import Device, PushSubscription


@dataclass(frozen=True, slots=True)
class Phone:
    """A device that takes Web Push messages."""

    device_id: str
    endpoint: str
    p256dh: str
    auth: str


def of_member(refit_id: str, member_id: str) -> list[Phone]:
    """Give the phones of a member whose keys are not revoked, one for each address."""
    query = (
        select(
            PushSubscription.device_id,
            PushSubscription.endpoint,
            PushSubscription.p256dh,
            PushSubscription.auth,
        )
        .join(Device, Device.id == PushSubscription.device_id)
        .where(
            Device.refit_id == refit_id, Device.member_id == member_id, Device.revoked_at.is_(None)
        )
        .order_by(PushSubscription.created_at, PushSubscription.device_id)
    )
    phones = [Phone(*row) for row in db.session.execute(query)]
    return list({phone.endpoint: phone for phone in phones}.values())


def any_device(refit_id: str, member_id: str) -> bool:
    """Say whether a member has a device with a key that is not revoked."""
    query = select(
        exists().where(
            Device.refit_id == refit_id, Device.member_id == member_id, Device.revoked_at.is_(None)
        )
    )
    return bool(db.session.scalar(query))


def forget(device_id: str, endpoint: str) -> None:
    """Drop a subscription that its push service no longer knows, unless the phone has made another."""
    db.session.execute(
        delete(PushSubscription).where(
            PushSubscription.device_id == device_id, PushSubscription.endpoint == endpoint
        )
    )
