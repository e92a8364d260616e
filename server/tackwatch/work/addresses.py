"""A person's own addresses: seeing them, and what became of the messages there.

Rules
-----
- They are nobody else's to see, and are not synced. The owner may take one away unseen (``addresses_of_others``).
- There is one of each kind for a person; a new one takes the place of the old.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from tackwatch.settings import Settings
from tackwatch.store import address_removals, addresses, refits
from tackwatch.store.address_removals import Removal
from tackwatch.store.addresses import AddressRow
from tackwatch.store.db import db, writing
from tackwatch.work.caller import Caller

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
    """A person's addresses, which kinds this server can use, and what an owner took away lately."""

    addresses: list[AddressSeen]
    offers: list[str]
    removed: list[Removal]


def my_addresses(caller: Caller, settings: Settings) -> AddressesSeen:
    """Give the caller's own addresses."""
    mine = addresses.of_member(caller.refit_id, caller.member_id)
    removed = address_removals.of_member(caller.refit_id, caller.member_id)
    db.session.rollback()
    seen = [_seen(mine[kind]) for kind in KINDS if kind in mine]
    return AddressesSeen(seen, offers(settings), removed)


def offers(settings: Settings) -> list[str]:
    """Say which kinds of address this server can use."""
    able = {MAIL: settings.smtp is not None, WEBHOOK: bool(settings.webhook_hosts), CALENDAR: True}
    return [kind for kind in KINDS if able[kind]]


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
