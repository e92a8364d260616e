"""Calendars, read by the package icalendar and, for the form of the lines, by hand from RFC 5545."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from icalendar import Calendar
from icalendar.cal import Component

from tackwatch.alarms.calendar import calendar_of
from tackwatch.work.calendar import calendar_of_one, entries_of
from tackwatch.work.errors import NotFoundError
from tackwatch.work.letters import Entry, Reader
from tests.alarms.yard import NOON, Yard, minutes, wanted

READER = Reader("r-1", "m", "en", "Europe/Lisbon", "Wanderer; yard, north\\pier\nX-ODD:1")
URL = "https://boat.example"


def _entry(**changes: Any) -> Entry:
    known = {
        "alarm_id": "c-1.recoat_closing", "kind": "recoat_closing", "due_at": NOON,
        "useless_after": NOON + timedelta(hours=1), "acknowledged_at": None, "cancelled": False,
        "sequence": 3, "changed_at": NOON - minutes(5),
        "params": {
            "product": "Imprimación; dos, componentes\\Ñandú " + "🛥" * 40, "zone": "Port\nhull",
            "last_start_at": "2026-03-03T14:20:00+00:00", "closes_at": "2026-03-03T15:00:00+00:00",
        },
    }  # fmt: skip
    return Entry(**{**known, **changes})


def _written(*entries: Entry, feed: bool = True) -> bytes:
    return calendar_of(READER, entries, URL, feed=feed)


def _event(content: bytes) -> Component:
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    return event


def test_lines_end_and_fold_as_rfc5545_3_1_says() -> None:
    """Source: RFC 5545 3.1: CRLF, lines of at most 75 octets; no fold breaks a sign's octets."""
    content = _written(_entry())
    assert content.endswith(b"\r\n")
    lines = content.split(b"\r\n")[:-1]
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()


def test_texts_are_escaped_as_rfc5545_3_3_11_says() -> None:
    """Source: RFC 5545 3.3.11: backslash, semicolon, comma and newline are escaped."""
    unfolded = _written(_entry()).replace(b"\r\n ", b"").decode()
    (summary,) = re.findall(r"^DESCRIPTION;LANGUAGE=en:(.*)\r$", unfolded, re.M)
    assert r"Imprimación\; dos\, componentes\\Ñandú" in summary
    assert r"Port\nhull" in summary
    assert "X-WR-CALNAME:Wanderer\\; yard\\, north\\\\pier\\nX-ODD:1: my alarms" in unfolded
    assert "Imprimación; dos, componentes\\Ñandú" in _event(_written(_entry()))["DESCRIPTION"]


def test_an_alarm_is_an_event_that_rings_when_it_is_due_rfc5545() -> None:
    event = _event(_written(_entry()))
    assert event["UID"] == "c-1.recoat_closing@r-1"
    assert event.decoded("DTSTART") == NOON
    assert event["SEQUENCE"] == 3
    assert (event["STATUS"], event["TRANSP"]) == ("CONFIRMED", "TRANSPARENT")
    assert event.decoded("DTSTAMP") == event.decoded("LAST-MODIFIED") == NOON - minutes(5)
    (alarm,) = event.walk("VALARM")
    assert alarm["ACTION"] == "DISPLAY"
    assert alarm["DESCRIPTION"] == event["SUMMARY"]
    assert alarm.decoded("TRIGGER") == timedelta(0)
    assert "ACKNOWLEDGED" not in alarm
    assert b"\r\nDTSTART:20260303T120000Z\r\n" in _written(_entry()), "UTC: RFC 5545 3.3.5, form 2"


def test_the_library_finds_the_same_instant_at_which_it_rings_icalendar() -> None:
    """Source: icalendar works out triggers by itself (icalendar.alarms)."""
    from icalendar.alarms import Alarms

    (time,) = Alarms(_event(_written(_entry()))).times
    assert time.trigger == NOON
    assert time.is_active()
    seen = _event(_written(_entry(acknowledged_at=NOON + minutes(2))))
    (time,) = Alarms(seen).times
    assert not time.is_active(), "RFC 9074 6.1: acknowledged after it went off"


def test_a_feed_says_when_to_read_it_again_rfc7986_5_7() -> None:
    content = _written(_entry())
    assert b"\r\nREFRESH-INTERVAL;VALUE=DURATION:PT15M\r\n" in content
    calendar = Calendar.from_ical(content)
    assert calendar["VERSION"] == "2.0"
    assert calendar["PRODID"]
    assert "METHOD" not in calendar
    assert b"REFRESH-INTERVAL" not in _written(_entry(), feed=False)


def test_what_was_withdrawn_is_cancelled_and_rings_nobody() -> None:
    event = _event(_written(_entry(cancelled=True)))
    assert event["STATUS"] == "CANCELLED"
    assert event.walk("VALARM") == []


def test_days_are_named_by_their_date() -> None:
    event = _event(_written(_entry()))
    assert "Tue 3 Mar 14:20" in event["SUMMARY"]
    assert "today" not in event["SUMMARY"] + event["DESCRIPTION"]


def test_the_same_entries_give_the_same_bytes() -> None:
    assert _written(_entry()) == _written(_entry())


def _entries(yard: Yard, member: str, now: datetime) -> dict[str, tuple[int, bool, datetime]]:
    found = entries_of(yard.refit_id, member, now).values()
    return {one.alarm_id: (one.sequence, one.cancelled, one.changed_at) for one in found}


def test_the_sequence_rises_when_an_alarm_moves_and_else_stays_rfc5545_3_8_7_4(yard: Yard) -> None:
    """Source: RFC 5545 3.8.7.4: it rises with each significant revision, such as of DTSTART."""
    member, name = yard.member(), "coat.recoat_closing"
    yard.keep(wanted(member, NOON + minutes(30)))
    assert _entries(yard, member, NOON) == {name: (0, False, NOON)}
    assert _entries(yard, member, NOON + minutes(1)) == {name: (0, False, NOON)}
    yard.keep(wanted(member, NOON + minutes(30), zone="Starboard"))
    assert _entries(yard, member, NOON + minutes(2)) == {name: (0, False, NOON + minutes(2))}
    for number, due_in in enumerate((45, 20, 30), start=1):
        yard.keep(wanted(member, NOON + minutes(due_in)))
        assert _entries(yard, member, NOON + minutes(5))[name][0] == number


def test_what_is_withdrawn_is_cancelled_and_comes_back_with_a_higher_sequence(yard: Yard) -> None:
    member, name = yard.member(), "coat.recoat_closing"
    yard.keep(wanted(member, NOON + minutes(30)))
    entries_of(yard.refit_id, member, NOON)
    yard.keep()
    assert _entries(yard, member, NOON + minutes(1))[name] == (1, True, NOON + minutes(1))
    yard.keep(wanted(member, NOON + minutes(30)))
    assert _entries(yard, member, NOON + minutes(2))[name] == (2, False, NOON + minutes(2))


def test_what_was_seen_is_acknowledged_rfc9074_6_1(yard: Yard) -> None:
    member, name = yard.member(), "coat.recoat_closing"
    one = wanted(member, NOON)
    yard.keep(one)
    yard.keep(one, seen={(member, name): NOON + minutes(3)}, now=NOON + minutes(3))
    _, (entry,) = calendar_of_one(yard.refit_id, member, name, NOON + minutes(4))
    assert (entry.acknowledged_at, entry.sequence) == (NOON + minutes(3), 0)


def test_a_persons_calendar_has_their_own_alarms_alone(yard: Yard) -> None:
    member, other = yard.member(), yard.member()
    yard.keep(wanted(member, NOON), wanted(other, NOON, alarm="pot"))
    assert set(entries_of(yard.refit_id, member, NOON)) == {"coat.recoat_closing"}
    with pytest.raises(NotFoundError):
        calendar_of_one(yard.refit_id, member, "pot.recoat_closing", NOON)


def test_old_alarms_are_left_as_they_were_and_not_cancelled(yard: Yard) -> None:
    member, name = yard.member(), "coat.recoat_closing"
    yard.keep(wanted(member, NOON))
    entries_of(yard.refit_id, member, NOON)
    later = NOON + timedelta(days=30)
    assert _entries(yard, member, later) == {name: (0, False, NOON)}


def test_reading_twice_writes_once(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    member = yard.member()
    yard.keep(wanted(member, NOON))
    entries_of(yard.refit_id, member, NOON)

    def no_writing() -> None:
        raise AssertionError("a second reading wrote")

    monkeypatch.setattr("tackwatch.work.calendar.writing", no_writing)
    entries_of(yard.refit_id, member, NOON + minutes(1))
