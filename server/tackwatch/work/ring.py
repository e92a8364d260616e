"""What the bell does with alarms: claim those that are due, look up whom they are for, tell, and settle.

Each function is one short transaction; nothing is delivered inside one. The order is ``claim``, ``look_up``, ``show``
(open pages), then pushes, then ``settle``. A bell that dies in between loses nothing: its lease ends and another one
claims the alarm. A row that calls an alarm off goes the same way, and ends as withdrawn or done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from tackwatch.store import alarms as rows
from tackwatch.store import phones, told
from tackwatch.store.addresses import AddressRow
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.db import db, writing
from tackwatch.store.phones import Phone
from tackwatch.work.addresses import MAIL, WEBHOOK, note_trouble, usable
from tackwatch.work.keep_alarms import GONE, call_off
from tackwatch.work.letters import Reader, reader_of

__all__ = ["AddressRow", "AlarmRow", "Channels", "Phone", "Ringing", "Settled", "note_trouble"]

Channels = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class Ringing:
    """A claimed alarm with all that a message to its person needs.

    ``phones`` and ``addresses`` are those that the person's rules let it ring. ``channels`` is how each channel ended
    in earlier attempts, by ``stream``, device id, or kind of address.
    """

    alarm: AlarmRow
    reader: Reader
    phones: tuple[Phone, ...]
    addresses: tuple[AddressRow, ...]
    channels: Channels

    @property
    def by_page_alone(self) -> bool:
        """Say whether nothing but open pages tells this person."""
        return not self.phones and not self.addresses


@dataclass(frozen=True, slots=True)
class Settled:
    """How a claim ended: ``told``, ``missed``, or still ``claimed`` and to be tried again at an instant."""

    alarm: AlarmRow
    state: str
    channels: Channels
    try_at: datetime | None = None


def claim(owner: str, now: datetime, lease: timedelta, most: int) -> list[AlarmRow]:
    """Take up to ``most`` due alarms under a lease."""
    with writing():
        return rows.claim(owner, now, now + lease, most)


def look_up(claimed: Iterable[AlarmRow]) -> tuple[list[Ringing], list[Settled]]:
    """Find out whom claimed alarms are for; those that are for nobody come back settled as missed."""
    ringing: list[Ringing] = []
    nobody: list[Settled] = []
    for alarm in claimed:
        reader = reader_of(alarm.refit_id, alarm.member_id)
        if reader is None:
            nobody.append(Settled(alarm, "missed", {"person": {"result": "left"}}))
        elif not phones.any_device(alarm.refit_id, alarm.member_id):
            nobody.append(Settled(alarm, "missed", {"person": {"result": "no device"}}))
        else:
            ringing.append(_ringing(alarm, reader))
    db.session.rollback()
    return ringing, nobody


def show(ringing: Sequence[Ringing], now: datetime) -> list[Ringing]:
    """Show alarms to the open pages of their persons; give those that are still ours to deliver."""
    held: set[int] = set()
    by_refit = sorted(ringing, key=lambda one: one.alarm.refit_id)
    for refit_id, group in groupby(by_refit, key=lambda one: one.alarm.refit_id):
        with writing():
            held |= told.show(refit_id, [one.alarm for one in group], now)
    return [one for one in ringing if one.alarm.id in held]


def settle(ended: Sequence[Settled]) -> None:
    """Write down how claims ended."""
    if not ended:
        return
    with writing():
        for one in sorted(ended, key=lambda one: one.alarm.id):
            _settle(one)


def _settle(one: Settled) -> None:
    alarm, why = one.alarm, one.alarm.params.get("withdrawn")
    state = one.state
    if why is not None and state in ("told", "missed"):
        state = "done" if why == "done" else "withdrawn"
    told_for = alarm.due_at if state == "told" else None
    found = rows.settle(alarm, state, dict(one.channels), told_for=told_for, try_at=one.try_at)
    if state == "told" and found in ("withdrawn", "done"):
        # it was withdrawn while it was on its way: the phones have it now
        rows.change([{"id": alarm.id, **call_off(alarm, GONE, alarm.due_at)}])


def next_look_at() -> datetime | None:
    """Give the earliest instant at which an alarm falls due, is to be tried again, or loses its holder."""
    at = rows.next_look_at()
    db.session.rollback()
    return at


def drop_phone(phone: Phone) -> None:
    """Forget where a phone took pushes: its push service says that it is no longer there."""
    with writing():
        phones.forget(phone.device_id, phone.endpoint)


def _ringing(alarm: AlarmRow, reader: Reader) -> Ringing:
    rules = alarm.params
    phones_ = (
        phones.of_member(alarm.refit_id, alarm.member_id) if rules.get("by_push", True) else []
    )
    asked = {MAIL: rules.get("by_mail", False), WEBHOOK: rules.get("by_webhook", False)}
    known = usable(alarm.refit_id, alarm.member_id) if any(asked.values()) else {}
    return Ringing(
        alarm=alarm,
        reader=reader,
        phones=tuple(phones_),
        addresses=tuple(known[kind] for kind, yes in asked.items() if yes and kind in known),
        channels=dict(alarm.outcome.get("channels", {})),
    )
