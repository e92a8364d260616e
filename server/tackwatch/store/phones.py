"""Who is told of alarms: each person's fields, and where their phones take pushes; for many alarms in a few queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, delete, exists, select
from sqlalchemy.orm import aliased

from tackwatch.store.addresses import AddressRow
from tackwatch.store.db import db
from tackwatch.store.models import Address, Alarm, Device, ItemRow, PushSubscription

Person = tuple[str, str]  # refit_id, member_id
_ADDRESS = tuple(getattr(Address, name) for name in AddressRow.__slots__)


@dataclass(frozen=True, slots=True)
class Phone:
    """A device that takes Web Push messages."""

    device_id: str
    endpoint: str
    p256dh: str
    auth: str


@dataclass(frozen=True, slots=True)
class Fields:
    """The fields of a member and of the refit."""

    member: dict[str, Any]
    refit: dict[str, Any]


def fields_of(alarm_ids: Collection[int]) -> dict[Person, Fields]:
    """Give the fields of those whom alarms are for; who left the crew is not among them."""
    whom, member, refit = _persons(alarm_ids), aliased(ItemRow), aliased(ItemRow)
    same = member.refit_id == whom.c.refit_id
    query = select(member.refit_id, member.id, member.fields).join(
        whom, and_(same, member.id == whom.c.member_id)
    )
    members = db.session.execute(query).all()
    ids = {refit_id for refit_id, _, _ in members}
    query = select(refit.id, refit.fields).where(
        refit.refit_id.in_(ids), refit.id == refit.refit_id
    )
    refits = {row.id: row.fields for row in db.session.execute(query)}
    return {
        (refit_id, id_): Fields(fields, refits[refit_id])
        for refit_id, id_, fields in members
        if refit_id in refits and not fields.get("gone", False)
    }


def of_alarms(alarm_ids: Collection[int]) -> dict[Person, list[Phone]]:
    """Give the phones of those whom alarms are for, one for each address.

    Only who has a device whose key is not revoked is among them, with no phone when none of them takes pushes.
    """
    whom = _persons(alarm_ids)
    mine = and_(Device.refit_id == whom.c.refit_id, Device.member_id == whom.c.member_id)
    push = PushSubscription
    query = (
        select(
            *(Device.refit_id, Device.member_id, Device.id),
            *(push.endpoint, push.p256dh, push.auth),
        )
        .join(whom, mine)
        .outerjoin(push, push.device_id == Device.id)
        .where(Device.revoked_at.is_(None))
        .order_by(push.created_at, Device.id)
    )
    phones: dict[Person, dict[str, Phone]] = defaultdict(dict)
    for refit_id, member_id, device_id, endpoint, p256dh, auth in db.session.execute(query):
        of_person = phones[refit_id, member_id]
        if endpoint is not None:
            of_person[endpoint] = Phone(device_id, endpoint, p256dh, auth)
    return {person: list(by_address.values()) for person, by_address in phones.items()}


def addresses_of(alarm_ids: Collection[int]) -> dict[Person, dict[str, AddressRow]]:
    """Give the addresses of those whom alarms are for, by kind."""
    whom = _persons(alarm_ids)
    mine = and_(Address.refit_id == whom.c.refit_id, Address.member_id == whom.c.member_id)
    found: dict[Person, dict[str, AddressRow]] = defaultdict(dict)
    for row in db.session.execute(select(*_ADDRESS).join(whom, mine)):
        address = AddressRow(*row)
        found[address.refit_id, address.member_id][address.kind] = address
    return found


def _persons(alarm_ids: Collection[int]) -> Any:
    query = select(Alarm.refit_id, Alarm.member_id).where(Alarm.id.in_(alarm_ids))
    return query.distinct().subquery()


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
