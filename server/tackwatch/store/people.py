"""Devices with their keys, invites, and a new refit's own row.

The caller holds the refit's lock wherever a row is written, except in ``touch``.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import delete, or_, select, update

from tackwatch.store.db import db, writing
from tackwatch.store.models import Device, Invite, ItemRow, PushSubscription, Refit

_TOUCH_EVERY = timedelta(minutes=1)


def add_refit(refit_id: str, epoch: str, recovery_hash: str, now: datetime) -> None:
    """Add the row of a new refit."""
    db.session.add(
        Refit(id=refit_id, epoch=epoch, recovery_hash=recovery_hash, created_at=now, seq=0)
    )
    db.session.flush()


def add_device(device_id: str, refit_id: str, member_id: str, name: str, **key: Any) -> None:
    """Add a device; ``key`` is ``key_hash`` and ``created_at``."""
    db.session.add(Device(id=device_id, refit_id=refit_id, member_id=member_id, name=name, **key))
    db.session.flush()


def device_by_key(key_hash: str) -> Device | None:
    """Give the device that a key belongs to, withdrawn or not."""
    return db.session.scalar(select(Device).where(Device.key_hash == key_hash))


def touch(device_id: str, now: datetime) -> None:
    """Note that a device was seen, at most once a minute; a transaction of its own."""
    with writing():
        db.session.execute(
            update(Device)
            .where(Device.id == device_id, _not_seen_since(now - _TOUCH_EVERY))
            .values(last_seen_at=now)
        )


def _not_seen_since(instant: datetime) -> Any:
    return or_(Device.last_seen_at.is_(None), Device.last_seen_at <= instant)


def needs_touch(device: Device, now: datetime) -> bool:
    """Say whether a device was not seen for a minute."""
    return device.last_seen_at is None or device.last_seen_at <= now - _TOUCH_EVERY


def withdraw(device_id: str, now: datetime) -> bool:
    """Withdraw a device's key and its push address; false when it was withdrawn before."""
    db.session.execute(delete(PushSubscription).where(PushSubscription.device_id == device_id))
    done = db.session.scalar(
        update(Device)
        .where(Device.id == device_id, Device.revoked_at.is_(None))
        .values(revoked_at=now)
        .returning(Device.id)
    )
    return done is not None


def member(refit_id: str, member_id: str) -> ItemRow | None:
    """Give a member's item."""
    row = db.session.get(ItemRow, (refit_id, member_id), populate_existing=True)
    return row if row is not None and row.kind == "member" else None


def members(refit_id: str) -> list[ItemRow]:
    """Give all members' items, the first to join first."""
    query = select(ItemRow).where(ItemRow.refit_id == refit_id, ItemRow.kind == "member")
    return list(db.session.scalars(query.order_by(ItemRow.at, ItemRow.id)))


def add_invite(invite_id: str, refit_id: str, member_id: str, token_hash: str, **when: Any) -> None:
    """Add an invite; ``when`` is ``created_at`` and ``expires_at``."""
    db.session.add(
        Invite(id=invite_id, refit_id=refit_id, member_id=member_id, token_hash=token_hash, **when)
    )
    db.session.flush()


def invites(refit_id: str) -> list[Invite]:
    """Give all invites of a refit, newest first."""
    query = select(Invite).where(Invite.refit_id == refit_id)
    return list(db.session.scalars(query.order_by(Invite.created_at.desc(), Invite.id)))


def invite_by_token(token_hash: str) -> Invite | None:
    """Give the invite that a token belongs to, as it is now."""
    query = select(Invite).where(Invite.token_hash == token_hash)
    return db.session.scalars(query.execution_options(populate_existing=True)).one_or_none()


def claim_invite(invite_id: str, now: datetime) -> bool:
    """Use an invite up; true for exactly one caller, and only while it is open."""
    done = db.session.scalar(
        update(Invite).where(Invite.id == invite_id, *_open(now)).values(claimed_at=now)
        .returning(Invite.id)
    )  # fmt: skip
    return done is not None


def revoke_invite(refit_id: str, invite_id: str, now: datetime) -> Invite | None:
    """Take an invite back unless it was used; give it as it is then, ``None`` when there is none."""
    mine = (Invite.id == invite_id, Invite.refit_id == refit_id)
    db.session.execute(
        update(Invite)
        .where(*mine, Invite.claimed_at.is_(None), Invite.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    query = select(Invite).where(*mine).execution_options(populate_existing=True)
    return db.session.scalars(query).one_or_none()


def _open(now: datetime) -> tuple[Any, ...]:
    return (Invite.claimed_at.is_(None), Invite.revoked_at.is_(None), Invite.expires_at > now)
