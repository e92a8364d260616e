"""A person's alarms as iCalendar, so that the phone's own calendar rings them.

Rules
-----
- An event begins when its alarm is due, and its VALARM goes off then. Instants are UTC.
- The UID is the alarm's id at the refit's, for ever. SEQUENCE and LAST-MODIFIED come with the entry; without METHOD,
  DTSTAMP is the instant of the last change too. The same entries therefore give the same bytes.
- What was seen has ACKNOWLEDGED on its VALARM; what was withdrawn is CANCELLED and has no VALARM.
- Words name days by their date, never as *today*: a calendar is read on other days.

Source
------
RFC 5545 (3.3.11 text, 3.1 folding: the library's), RFC 7986 (NAME, REFRESH-INTERVAL), RFC 9074 (UID and ACKNOWLEDGED of
an alarm).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from icalendar import Alarm, Calendar, Event, vText

from tackwatch.alarms.words import Words, catalogue, language_of, words_for
from tackwatch.work.letters import Entry, Reader

REFRESH = timedelta(minutes=15)
MEDIA_TYPE = "text/calendar"
_LONG_BEFORE = timedelta(days=60)


def calendar_of(
    reader: Reader, entries: Sequence[Entry], public_url: str, *, feed: bool = False
) -> bytes:
    """Write entries as a calendar; a feed says its name, and how often to read it again."""
    calendar = Calendar()
    calendar.add("prodid", "-//Tackwatch//Alarms//EN")
    calendar.add("version", "2.0")
    if feed:
        name = catalogue(language_of(reader.language))["calendar"]["name"]
        name = name.format(refit=reader.refit_name)
        for known_as in ("name", "x-wr-calname"):
            calendar.add(known_as, vText(name))  # else the library takes it for written already
        calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
        calendar.add("x-published-ttl", f"PT{REFRESH.seconds // 60}M")
    for entry in entries:
        calendar.add_component(_event(reader, entry, public_url))
    return bytes(calendar.to_ical())


def dated_words(reader: Reader, kind: str, params: dict[str, object], due_at: datetime) -> Words:
    """Say an alarm with dates in full: as if it were read long before."""
    read_at = due_at - _LONG_BEFORE
    return words_for(kind, params, reader.language, reader.time_zone, read_at, due_at)


def _event(reader: Reader, entry: Entry, public_url: str) -> Event:
    words = dated_words(reader, entry.kind, entry.params, entry.due_at)
    event = Event()
    event.add("uid", f"{entry.alarm_id}@{reader.refit_id}")
    event.add("dtstamp", entry.changed_at)
    event.add("last-modified", entry.changed_at)
    event.add("sequence", entry.sequence)
    event.add("dtstart", entry.due_at)
    event.add("summary", words.title, parameters={"LANGUAGE": words.lang})
    event.add("description", words.body, parameters={"LANGUAGE": words.lang})
    event.add("url", f"{public_url}/#/now")
    event.add("transp", "TRANSPARENT")
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    if not entry.cancelled:
        event.add_component(_alarm(reader, entry, words))
    return event


def _alarm(reader: Reader, entry: Entry, words: Words) -> Alarm:
    alarm = Alarm()
    alarm.add("uid", f"{entry.alarm_id}.alarm@{reader.refit_id}")
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", timedelta(0))
    alarm.add("description", words.title)
    if entry.acknowledged_at is not None:
        alarm.add("acknowledged", entry.acknowledged_at)
    return alarm
