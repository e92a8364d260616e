"""What persons said of alarms: seen, put off, done.

Rules
-----
- Each counts for the person on whose device it was said; *done* ends the alarm for everybody whom it was for.
- *Seen* and *done* cover what was due at most a minute after they were said. What moved later than that has not been
  seen by anybody.
- *Put off* counts from the last time that it was said, for what was due by then, unless it was seen since; not beyond
  the use of the warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from tackwatch.merge.hlc import device_of
from tackwatch.merge.state import Item, Record
from tackwatch.work.reckoning.personal_warnings import PersonalWarning

SAME = timedelta(minutes=1)  # two instants that are nearer than this are the same alarm to a person
MARK_KINDS = ("seen", "snoozed", "handled")

Key = tuple[str, str]  # member_id, alarm_id


@dataclass(frozen=True, slots=True)
class Handled:
    """Who said last that an alarm is dealt with, and when."""

    member_id: str
    at: datetime


class StandingMarks:
    """The marks of a refit's alarms."""

    def __init__(self, records: Iterable[Record], devices: Mapping[str, Item]) -> None:
        self.seen: dict[Key, datetime] = {}
        self.handled: dict[str, Handled] = {}
        self._snoozed: dict[Key, tuple[datetime, datetime]] = {}
        for record in records:
            device = devices.get(device_of(record.at))
            if device is not None and not record.void:
                self._take(str(device.fields["member_id"]), record)

    def _take(self, member_id: str, record: Record) -> None:
        body, alarm_id = record.body, str(record.body.get("alarm_id"))
        key = (member_id, alarm_id)
        if record.kind == "seen":
            at = datetime.fromisoformat(body["seen_at"])
            self.seen[key] = max(at, self.seen.get(key, at))
        elif record.kind == "handled":
            at = datetime.fromisoformat(body["handled_at"])
            if alarm_id not in self.handled or at > self.handled[alarm_id].at:
                self.handled[alarm_id] = Handled(member_id, at)
        else:
            made = datetime.fromisoformat(body["snoozed_at"])
            until = datetime.fromisoformat(body["until_at"])
            self._snoozed[key] = max((made, until), self._snoozed.get(key, (made, until)))

    def put_off(self, one: PersonalWarning) -> PersonalWarning:
        """Give a warning as its person put it off."""
        key, warning = (one.member_id, one.warning.id), one.warning
        made, until = self._snoozed.get(key, (None, None))
        if made is None or until is None or until <= warning.due_at:
            return one
        seen = self.seen.get(key)
        if made + SAME < warning.due_at or (seen is not None and seen >= made):
            return one
        if warning.useless_after is not None and until > warning.useless_after:
            return one
        return replace(one, warning=replace(warning, due_at=until))

    def ended_by(self, one: PersonalWarning) -> Handled | None:
        """Give who dealt with a warning; None while nobody has."""
        handled = self.handled.get(one.warning.id)
        return handled if handled and covers(handled.at, one.warning.due_at) else None


def covers(said_at: datetime | None, due_at: datetime) -> bool:
    """Say whether something that was said counts for an alarm that was due then."""
    return said_at is not None and due_at <= said_at + SAME
