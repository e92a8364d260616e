"""A person's alarms as their own calendar has them: which, and since when.

Rules
-----
- The link's token opens one person's alarms of one refit; it is kept as a hash, and a new one ends the old.
- Nothing is given out for who left the crew, or has no device with a valid key: as for every other channel.
- What a calendar last had is remembered for each alarm. When it moves, or is withdrawn, its sequence rises; when
  anything else of it changes, only the instant of the change moves. Reading changes nothing else, so two readings
  without a change between them give the same bytes.
- What is withdrawn stays for a while as cancelled, so that calendars that remember take it out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta

from tackwatch.store import addresses, calendar_entries, phones, refits
from tackwatch.store.calendar_entries import EntryRow
from tackwatch.store.db import db, writing
from tackwatch.work.addresses import CALENDAR
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError
from tackwatch.work.letters import Entry, Reader, reader_of
from tackwatch.work.my_alarms import LATELY, MyAlarm, my_alarms
from tackwatch.work.notices import NOTICES
from tackwatch.work.ports import Ports
from tackwatch.work.sign_in import hash_of

CANCELLED_FOR = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class CalendarMade:
    """A new link to a calendar; it is shown once. ``webcal_url`` asks a phone to subscribe."""

    url: str
    webcal_url: str


def give_calendar(caller: Caller, public_url: str, ports: Ports) -> CalendarMade:
    """Make the caller's calendar link anew; an earlier one opens nothing any more."""
    token = ports.chance.secret()
    with writing():
        refits.lock(caller.refit_id)
        addresses.put(
            caller.refit_id, caller.member_id, CALENDAR, ports.clock.now(),
            token_hash=hash_of(token), confirmed_at=ports.clock.now(),
        )  # fmt: skip
    url = f"{public_url}/api/calendar/{token}.ics"
    return CalendarMade(url, "webcal://" + url.partition("://")[2])


def calendar_behind(token: str, now: datetime) -> tuple[Reader, list[Entry]]:
    """Give what a calendar's link opens.

    Raises
    ------
    NotFoundError
        When it opens nothing, or nothing any more.
    """
    found = addresses.by_token(hash_of(token))
    reader = None if found is None else reader_of(found.refit_id, found.member_id)
    if reader is None or not phones.any_device(reader.refit_id, reader.member_id):
        raise NotFoundError("unknown-calendar", "This link opens no calendar.")
    return reader, _shown(entries_of(reader.refit_id, reader.member_id, now), now)


def calendar_of_one(
    refit_id: str, member_id: str, alarm_id: str, now: datetime
) -> tuple[Reader, list[Entry]]:
    """Give one alarm of a member as a calendar's only entry.

    Raises
    ------
    NotFoundError
        When they have no such alarm.
    """
    reader = reader_of(refit_id, member_id)
    entry = entries_of(refit_id, member_id, now).get(alarm_id)
    if reader is None or entry is None:
        raise NotFoundError("unknown-alarm", "You have no such alarm.", "alarm_id")
    return reader, [_entry(entry)]


def entries_of(refit_id: str, member_id: str, now: datetime) -> dict[str, EntryRow]:
    """Bring a member's entries in line with their alarms, and give all that were ever there."""
    before = calendar_entries.of_member(refit_id, member_id)
    changed = _changed(before, my_alarms(refit_id, member_id, now), now)
    db.session.rollback()
    if not changed:
        return before
    with writing():
        refits.lock(refit_id)
        before = calendar_entries.of_member(refit_id, member_id)
        changed = _changed(before, my_alarms(refit_id, member_id, now), now)
        calendar_entries.put(refit_id, member_id, changed)
    return before | {one.alarm_id: one for one in changed}


def _changed(
    before: dict[str, EntryRow], alarms: Iterable[MyAlarm], now: datetime
) -> list[EntryRow]:
    shown = [
        one for one in alarms if one.kind not in NOTICES
    ]  # it is due when it is read: no calendar rings it
    found = [_after(before.get(one.alarm_id), _as_entry(one, now), now) for one in shown]
    listed = {one.alarm_id for one in found}
    gone = [
        replace(one, cancelled=True, sequence=one.sequence + 1, changed_at=_whole_s(now))
        for one in before.values()
        if one.alarm_id not in listed and not one.cancelled and one.due_at >= now - LATELY
    ]
    return [one for one in found if before.get(one.alarm_id) != one] + gone


def _as_entry(alarm: MyAlarm, now: datetime) -> EntryRow:
    seen_at = alarm.seen_at if alarm.state in ("seen", "done") else None
    return EntryRow(
        alarm_id=alarm.alarm_id,
        kind=alarm.kind,
        due_at=alarm.due_at,
        useless_after=alarm.useless_after,
        params=dict(alarm.params),
        acknowledged_at=None if seen_at is None else max(seen_at, alarm.due_at),
        cancelled=alarm.state == "done" and seen_at is None,
        sequence=0,
        changed_at=_whole_s(now),
    )


def _after(before: EntryRow | None, new: EntryRow, now: datetime) -> EntryRow:
    if before is None:
        return new
    same = replace(new, sequence=before.sequence, changed_at=before.changed_at)
    if same == before:
        return before
    moved = (before.due_at, before.cancelled) != (new.due_at, new.cancelled)
    return replace(same, sequence=before.sequence + moved, changed_at=_whole_s(now))


def _shown(entries: dict[str, EntryRow], now: datetime) -> list[Entry]:
    standing = [
        one
        for one in entries.values()
        if (one.changed_at >= now - CANCELLED_FOR if one.cancelled else one.due_at >= now - LATELY)
    ]
    return [_entry(one) for one in sorted(standing, key=lambda one: (one.due_at, one.alarm_id))]


def _entry(row: EntryRow) -> Entry:
    return Entry(**asdict(row))


def _whole_s(at: datetime) -> datetime:
    """Round up to what a calendar can say."""
    return datetime.fromtimestamp(-(-at.timestamp() // 1), UTC)
