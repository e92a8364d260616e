"""What the bell does with alarms: claim those that are due, look up whom they are for, tell, and settle.

Each function is one short transaction for many alarms; nothing is delivered inside one. The order is ``claim``,
``look_up``, ``show`` (open pages), then pushes, then ``settle``. A bell that dies in between loses nothing: its lease
ends and another one claims the alarm. A row that calls an alarm off goes the same way, and ends as withdrawn or done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from tackwatch.store import alarms as rows
from tackwatch.store import phones, signs, told
from tackwatch.store.addresses import AddressRow
from tackwatch.store.alarms import AlarmRow, Ended
from tackwatch.store.calls import Ear
from tackwatch.store.db import db, writing
from tackwatch.store.phones import Phone
from tackwatch.store.signs import Sign
from tackwatch.work import health_tally, missed
from tackwatch.work.addresses import MAIL, WEBHOOK, note_trouble
from tackwatch.work.keep_alarms import GONE, call_off
from tackwatch.work.letters import Reader, reader_with

__all__ = [
    "AddressRow",
    "AlarmRow",
    "Channels",
    "Ear",
    "Phone",
    "Ringing",
    "Settled",
    "Sign",
    "note_trouble",
]

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


def claim(
    owner: str, now: datetime, lease: timedelta, most: int, *, sweep: bool = True
) -> list[AlarmRow]:
    """Take up to ``most`` due alarms under a lease; what is of no use any more ends as missed before.

    ``sweep`` is false where that was just done.
    """
    if sweep:
        missed.sweep(now)
    with writing():
        return rows.claim(owner, now, now + lease, most)


def take_over(now: datetime) -> int:
    """Take the claims of holders that died from them, so that their alarms need not wait for the leases to end."""
    with writing():
        gone = signs.dead(rows.holders(now))
        return rows.end_leases(gone, now) if gone else 0


def sign(owner: str) -> Sign:
    """Show that a holder of claims lives."""
    return Sign(db.engine, owner)


def look_up(claimed: Iterable[AlarmRow]) -> tuple[list[Ringing], list[Settled]]:
    """Find out whom claimed alarms are for; those that are for nobody come back settled as missed."""
    alarms = list(claimed)
    ids = [alarm.id for alarm in alarms]
    persons, phones_ = phones.fields_of(ids), phones.of_alarms(ids)
    asking = [alarm.id for alarm in alarms if any(_asked(alarm).values())]
    addresses = phones.addresses_of(asking) if asking else {}
    db.session.rollback()
    ringing: list[Ringing] = []
    nobody: list[Settled] = []
    for alarm in alarms:
        whom = (alarm.refit_id, alarm.member_id)
        if whom not in persons:
            nobody.append(Settled(alarm, "missed", {"person": {"result": "left"}}))
        elif whom not in phones_:
            nobody.append(Settled(alarm, "missed", {"person": {"result": "no device"}}))
        else:
            reader = reader_with(*whom, persons[whom].member, persons[whom].refit)
            ringing.append(_ringing(alarm, reader, phones_[whom], addresses.get(whom, {})))
    return ringing, nobody


def show(ringing: Sequence[Ringing], now: datetime) -> list[Ringing]:
    """Show alarms to the open pages of their persons; give those that are still ours to deliver.

    Refits that nobody is just writing to are done together; each other one is waited for by itself.
    """
    held: set[int] = set()
    left: dict[str, list[AlarmRow]] = defaultdict(list)
    for one in ringing:
        left[one.alarm.refit_id].append(one.alarm)
    if left:
        with writing():
            free = told.lock(left, wait=False)
            held |= told.show([row for id_ in free for row in left.pop(id_)], now)
    for refit_id, rows_ in left.items():
        with writing():
            told.lock([refit_id], wait=True)
            held |= told.show(rows_, now)
    return [one for one in ringing if one.alarm.id in held]


def settle(ended: Sequence[Settled], now: datetime | None = None, *, aloud: bool = False) -> None:
    """Write down how claims ended, in one transaction; ``aloud`` where other bells shall take on what is left.

    With ``now`` they are counted, and those that were missed are noted for their persons, in the same transaction.
    """
    if not ended:
        return
    with writing():
        if now is not None:
            missed.lock_for(one.alarm for one in ended if _state_of(one) == "missed")
        found = rows.settle([_ended(one) for one in ended], aloud=aloud)
        if now is not None:
            _account([one for one in ended if found.get(one.alarm.id) is not None], now)
        # withdrawn while it was on its way: the phones have it now
        off = [one.alarm for one in ended if _was_told_in_vain(one, found.get(one.alarm.id))]
        for alarm in off:
            rows.change([{"id": alarm.id, **call_off(alarm, GONE, alarm.due_at)}])


def _account(ended: Sequence[Settled], now: datetime) -> None:
    """Count what ended, and note for their persons what was missed."""
    health_tally.count([(one.alarm, _state_of(one), one.channels) for one in ended], now)
    to_persons = [
        one for one in ended if _state_of(one) == "missed" and "person" not in one.channels
    ]
    missed.note([one.alarm for one in to_persons], now)


def _ended(one: Settled) -> Ended:
    state = _state_of(one)
    told_for = one.alarm.due_at if state == "told" else None
    return Ended(one.alarm, state, dict(one.channels), told_for, one.try_at)


def _state_of(one: Settled) -> str:
    why = one.alarm.params.get("withdrawn")
    if why is not None and one.state in ("told", "missed"):
        return "done" if why == "done" else "withdrawn"
    return one.state


def _was_told_in_vain(one: Settled, found: str | None) -> bool:
    return _state_of(one) == "told" and found in ("withdrawn", "done")


def ear() -> Ear:
    """Listen for calls of those who write alarms."""
    return Ear(db.engine)


def next_look_at() -> datetime | None:
    """Give the earliest instant at which an alarm falls due, is to be tried again, or loses its holder."""
    at = rows.next_look_at()
    db.session.rollback()
    return at


def drop_phone(phone: Phone) -> None:
    """Forget where a phone took pushes: its push service says that it is no longer there."""
    with writing():
        phones.forget(phone.device_id, phone.endpoint)


def _asked(alarm: AlarmRow) -> dict[str, bool]:
    rules = alarm.params
    return {MAIL: rules.get("by_mail", False), WEBHOOK: rules.get("by_webhook", False)}


def _ringing(
    alarm: AlarmRow, reader: Reader, mine: Sequence[Phone], addresses: Mapping[str, AddressRow]
) -> Ringing:
    usable = {kind: row for kind, row in addresses.items() if row.confirmed_at is not None}
    return Ringing(
        alarm=alarm,
        reader=reader,
        phones=tuple(mine) if alarm.params.get("by_push", True) else (),
        addresses=tuple(
            usable[kind] for kind, yes in _asked(alarm).items() if yes and kind in usable
        ),
        channels=dict(alarm.outcome.get("channels", {})),
    )
