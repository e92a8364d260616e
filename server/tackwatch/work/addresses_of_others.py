"""What an owner sees of others' addresses, and may take away: that they are there, never where they lead.

Rules
-----
- Of an address the owner is shown its kind, whether it is used and since when; of a phone that it takes pushes.
- Whoever takes away what is another's leaves a trace: who, when, what. Its person sees it, and so do the owners.
- What is not there is taken away without a trace and without harm.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from tackwatch.store import (
    address_removals,
    addresses,
    operations,
    refits,
    rows,
    subscriptions,
)
from tackwatch.store.address_removals import Removal
from tackwatch.store.db import db, writing
from tackwatch.work.addresses import KINDS
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotAllowedError, NotFoundError

PUSH = "push"


@dataclass(frozen=True, slots=True)
class AddressKnown:
    """That a person has an address of a kind."""

    kind: str
    usable: bool
    made_at: datetime


@dataclass(frozen=True, slots=True)
class AddressesOfOther:
    """How a person is told besides open pages; ``push_device_ids`` are their phones that take pushes."""

    addresses: list[AddressKnown]
    push_device_ids: list[str]
    removed: list[Removal]


def addresses_of_other(caller: Caller, member_id: str) -> AddressesOfOther:
    """Give what an owner may know of a member's addresses.

    Raises
    ------
    NotFoundError
        When the refit has no such member.
    """
    member = rows.load(caller.refit_id, {member_id}).items.get(member_id)
    if member is None or member.kind != "member":
        raise NotFoundError("unknown-member", "There is no such person in this refit.", "member_id")
    theirs = addresses.of_member(caller.refit_id, member_id)
    push = subscriptions.devices_of(caller.refit_id, member_id)
    removed = address_removals.of_member(caller.refit_id, member_id)
    db.session.rollback()
    known = [
        AddressKnown(kind, row.confirmed_at is not None, row.made_at)
        for kind, row in sorted(theirs.items())
    ]
    return AddressesOfOther(known, push, removed)


def remove(caller: Caller, member_id: str, kind: str, now: datetime) -> None:
    """Take an address away; no harm when there is none.

    Raises
    ------
    NotAllowedError
        When it is somebody else's and the caller is not the owner.
    NotFoundError
        When there is no such kind.
    """
    if kind not in KINDS:
        raise NotFoundError("unknown-kind", "There is no such kind of address.", "kind")
    if caller.role != "owner" and member_id != caller.member_id:
        raise NotAllowedError("not-allowed", "Only the owner may take away another's address.")
    with writing():
        refits.lock(caller.refit_id)
        if addresses.drop(caller.refit_id, member_id, kind):
            _note_removal(caller, member_id, kind, now)


def stop_pushes(caller: Caller, device_id: str, now: datetime) -> None:
    """Let a device take no pushes any more: the own ones everybody, all others the owner.

    Raises
    ------
    NotFoundError
        When the refit has no such device.
    NotAllowedError
        When it is somebody else's and the caller is not the owner.
    """
    with writing():
        refits.lock(caller.refit_id)
        device = operations.device(caller.refit_id, device_id)
        if device is None:
            raise NotFoundError("unknown-device", "There is no such device.", "device_id")
        if caller.role != "owner" and device.member_id != caller.member_id:
            raise NotAllowedError("not-allowed", "Only the owner may do this for another's device.")
        if subscriptions.drop(device_id):
            _note_removal(caller, device.member_id, PUSH, now, device_id)


def _note_removal(
    caller: Caller, member_id: str, kind: str, now: datetime, phone_id: str | None = None
) -> None:
    """Keep, in the transaction that takes it away, that another's address was taken away."""
    if member_id != caller.member_id:
        removal = Removal(kind, phone_id, caller.member_id, now)
        address_removals.add(caller.refit_id, member_id, removal, caller.device_id)
