"""Who took whose address away, kept for the person whose it was and for the owners."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from tackwatch.store.db import db
from tackwatch.store.models import AddressRemoval

_MOST = 20


@dataclass(frozen=True, slots=True)
class Removal:
    """One address that another person took away; ``phone_id`` where it was a phone's way for pushes."""

    kind: str
    phone_id: str | None
    by_member_id: str
    removed_at: datetime


_COLUMNS = tuple(getattr(AddressRemoval, name) for name in Removal.__slots__)


def add(refit_id: str, member_id: str, removal: Removal, by_device_id: str) -> None:
    """Keep that a member's address was taken away."""
    db.session.add(
        AddressRemoval(
            refit_id=refit_id,
            member_id=member_id,
            kind=removal.kind,
            phone_id=removal.phone_id,
            by_member_id=removal.by_member_id,
            by_device_id=by_device_id,
            removed_at=removal.removed_at,
        )
    )
    db.session.flush()


def of_member(refit_id: str, member_id: str) -> list[Removal]:
    """Give what was taken away from a member, the latest first."""
    query = (
        select(*_COLUMNS)
        .where(AddressRemoval.refit_id == refit_id, AddressRemoval.member_id == member_id)
        .order_by(AddressRemoval.removed_at.desc(), AddressRemoval.id.desc())
        .limit(_MOST)
    )
    return [Removal(*row) for row in db.session.execute(query)]
