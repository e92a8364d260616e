"""A person's own addresses: seeing them, and taking one away.

Rules
-----
- They are nobody else's to see, and are not synced. The owner may take one away unseen.
- There is one of each kind for a person; a new one takes the place of the old.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from tackwatch.settings import Settings
from tackwatch.store import addresses, refits
from tackwatch.store.addresses import AddressRow
from tackwatch.store.db import db, writing
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotAllowedError, NotFoundError

MAIL, WEBHOOK, CALENDAR = KINDS = ("mail", "webhook", "calendar")


@dataclass(frozen=True, slots=True)
class AddressSeen:
    """An address as its person sees it.

    ``target`` is a mail address or a URL, empty for a calendar; ``usable`` is false for a mail address that is not
    confirmed. ``trouble`` is how its last message was refused, in a few signs.
    """

    kind: str
    target: str
    usable: bool
    with_calendar: bool
    made_at: datetime
    trouble: str


@dataclass(frozen=True, slots=True)
class AddressesSeen:
    """A person's addresses, and which kinds this server can use."""

    addresses: list[AddressSeen]
    offers: list[str]


def my_addresses(caller: Caller, settings: Settings) -> AddressesSeen:
    """Give the caller's own addresses."""
    mine = addresses.of_member(caller.refit_id, caller.member_id)
    db.session.rollback()
    return AddressesSeen([_seen(mine[kind]) for kind in KINDS if kind in mine], offers(settings))


def offers(settings: Settings) -> list[str]:
    """Say which kinds of address this server can use."""
    able = {MAIL: settings.smtp is not None, WEBHOOK: bool(settings.webhook_hosts), CALENDAR: True}
    return [kind for kind in KINDS if able[kind]]


def remove(caller: Caller, member_id: str, kind: str) -> None:
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
        addresses.drop(caller.refit_id, member_id, kind)


def note_trouble(row: AddressRow, detail: str, *, gone: bool) -> None:
    """Note how a message to an address was refused, or with an empty ``detail`` that it was not.

    ``gone``: there is nobody at the address; it is not used again until its person confirms or gives it anew.
    """
    with writing():
        refits.lock(row.refit_id)
        addresses.change(row, trouble=detail, **({"confirmed_at": None} if gone else {}))


def _seen(row: AddressRow) -> AddressSeen:
    return AddressSeen(
        kind=row.kind,
        target=row.target,
        usable=row.confirmed_at is not None,
        with_calendar=row.with_calendar,
        made_at=row.made_at,
        trouble=row.trouble,
    )
