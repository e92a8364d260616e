"""Quiet hours by the wall clock, over changes of the clocks, in any zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.work.reckoning.quiet import held_until

ZONES = ("Europe/Lisbon", "America/New_York", "Pacific/Chatham", "Asia/Kathmandu", "UTC")


def at(text: str, zone: str = "Europe/Lisbon", fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC)


NIGHT = ("22:00", "07:00", "Europe/Lisbon")


@pytest.mark.parametrize(
    ("due", "rings"),
    [
        ("2026-02-03 21:59", "2026-02-03 21:59"),
        ("2026-02-03 22:00", "2026-02-04 07:00"),
        ("2026-02-04 03:30", "2026-02-04 07:00"),
        ("2026-02-04 07:00", "2026-02-04 07:00"),
        # summer time begins on 29 March 2026 at 01:00 UTC, ends on 25 October: the night is 8 and 10 hours long
        ("2026-03-28 23:00", "2026-03-29 07:00"),
        ("2026-10-24 23:00", "2026-10-25 07:00"),
        ("2028-02-28 23:30", "2028-02-29 07:00"),
        ("2028-02-29 23:30", "2028-03-01 07:00"),
    ],
)
def test_what_falls_into_the_night_rings_when_it_ends_by_the_wall_clock(due: str, rings: str):
    assert held_until(at(due), *NIGHT) == at(rings)


def test_an_end_that_the_clocks_skip_comes_as_much_later():
    held = held_until(at("2026-03-28 23:00"), "22:00", "01:30", "Europe/Lisbon")
    assert held == at("2026-03-29 02:30")


def test_the_night_of_a_partner_far_away_is_their_own():
    due = at("2026-02-03 14:00")  # nine in the morning in New York
    assert held_until(due, "22:00", "07:00", "America/New_York") == due
    assert held_until(due, "22:00", "09:30", "America/New_York") == due + timedelta(minutes=30)


def test_without_quiet_hours_or_with_ends_alike_nothing_is_held():
    due = at("2026-02-03 23:00")
    assert held_until(due, None, None, "UTC") == due
    assert held_until(due, "22:00", None, "UTC") == due
    assert held_until(due, "22:00", "22:00", "UTC") == due


def test_a_zone_that_nobody_knows_counts_as_utc():
    due = datetime(2026, 2, 3, 23, 0, tzinfo=UTC)
    assert held_until(due, "22:00", "07:00", "Nowhere/AtAll") == due.replace(day=4, hour=7)


MINUTES = st.integers(0, 1439).map(lambda n: f"{n // 60:02}:{n % 60:02}")
INSTANTS = st.integers(0, 2 * 366 * 1440).map(
    lambda n: datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=n)
)


def shows_quiet(at_: datetime, quiet_from: str, quiet_to: str, zone: str) -> bool:
    """Say it with the library's own wall clock: text against text."""
    shown = f"{at_.astimezone(ZoneInfo(zone)):%H:%M}"
    if quiet_from <= quiet_to:
        return quiet_from <= shown < quiet_to
    return shown >= quiet_from or shown < quiet_to


@given(INSTANTS, MINUTES, MINUTES, st.sampled_from(ZONES))
def test_held_is_never_early_never_quiet_and_at_most_a_day(
    due: datetime, quiet_from: str, quiet_to: str, zone: str
):
    held = held_until(due, quiet_from, quiet_to, zone)
    assert due <= held <= due + timedelta(hours=25)
    assert not shows_quiet(held, quiet_from, quiet_to, zone)
    assert (held == due) is not shows_quiet(due, quiet_from, quiet_to, zone)
    if held != due:
        halfway = due + (held - due) / 2
        steady = (
            due.astimezone(ZoneInfo(zone)).utcoffset()
            == held.astimezone(ZoneInfo(zone)).utcoffset()
        )
        assert shows_quiet(halfway, quiet_from, quiet_to, zone) or not steady
