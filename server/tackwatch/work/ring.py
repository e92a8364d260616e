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

from tackwatch.merge.state import Item
from tackwatch.store import alarms as rows
from tackwatch.store import phones, told
from tackwatch.store import rows as refit_rows
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.db import db, writing
from tackwatch.store.phones import Phone
from tackwatch.work.keep_alarms import GONE, call_off

__all__ = ["AlarmRow", "Channels", "Phone", "Ringing", "Settled"]

Channels = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class Ringing:
    """A claimed alarm with all that a message to its person needs.

    ``channels`` is how each channel ended in earlier attempts, by ``stream`` or device id.
    """

    alarm: AlarmRow
    language: str
    time_zone: str
    phones: tuple[Phone, ...]
    channels: Channels


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
        items = refit_rows.load(alarm.refit_id, {alarm.refit_id, alarm.member_id}).items
        member, refit = items.get(alarm.member_id), items.get(alarm.refit_id)
        if member is None or member.gone or refit is None:
            nobody.append(Settled(alarm, "missed", {"person": {"result": "left"}}))
        elif not phones.any_device(alarm.refit_id, alarm.member_id):
            nobody.append(Settled(alarm, "missed", {"person": {"result": "no device"}}))
        else:
            ringing.append(_ringing(alarm, member, refit))
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


def _ringing(alarm: AlarmRow, member: Item, refit: Item) -> Ringing:
    return Ringing(
        alarm=alarm,
        language=str(member.fields.get("language") or "en"),
        time_zone=str(refit.fields["time_zone"]),
        phones=tuple(phones.of_member(alarm.refit_id, alarm.member_id))
        if alarm.params.get("by_push", True)
        else (),
        channels=dict(alarm.outcome.get("channels", {})),
    )
