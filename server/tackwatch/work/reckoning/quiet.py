"""Quiet hours: until when something that can wait is held back.

Rules
-----
- Quiet hours are wall times, and go by what the wall clock shows at each instant: over a change of the clocks the night
  is an hour shorter or longer, its ends stay at the same wall time. An end that the clocks skip comes as much later.
- From and to alike: there are no quiet hours.
- A zone that is not known here counts as UTC, as it does on the phone.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

_DAY_MS = 86_400_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_TRIES = 4


def held_until(at: datetime, quiet_from: str | None, quiet_to: str | None, zone: str) -> datetime:
    """Give the first instant from ``at`` on that does not lie in quiet hours.

    Parameters
    ----------
    at
        When something would ring.
    quiet_from, quiet_to
        Wall times such as ``22:00`` and ``07:00``; None where there are none.
    zone
        The zone of the wall clock.
    """
    if quiet_from is None or quiet_to is None or quiet_from == quiet_to:
        return at
    from_ms, to_ms = _ms_of(quiet_from), _ms_of(quiet_to)
    start = ms = round((at - _EPOCH) / timedelta(milliseconds=1))
    for _ in range(_TRIES):
        shown = _shown_ms(zone, ms)
        if not _is_quiet(shown, from_ms, to_ms):
            break
        later = ms + (to_ms - shown) % _DAY_MS
        back = later - 1000 * (offset_s(zone, later) - offset_s(zone, ms))
        moved = back != later and not _is_quiet(_shown_ms(zone, back), from_ms, to_ms)
        ms = back if moved else later
    return at if ms == start else _EPOCH + timedelta(milliseconds=ms)


def offset_s(zone: str, ms: int) -> int:
    """Give how far a zone's wall clock is ahead of UTC, in seconds."""
    at = _EPOCH + timedelta(milliseconds=ms)
    offset = at.astimezone(_zone(zone)).utcoffset()
    return round(offset.total_seconds()) if offset else 0


@lru_cache(maxsize=64)
def _zone(name: str) -> tzinfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


def _ms_of(wall: str) -> int:
    return 60_000 * (60 * int(wall[:2]) + int(wall[3:5]))


def _shown_ms(zone: str, ms: int) -> int:
    """Give what the wall clock shows, as milliseconds since its midnight."""
    return (ms + 1000 * offset_s(zone, ms)) % _DAY_MS


def _is_quiet(shown: int, from_ms: int, to_ms: int) -> bool:
    if from_ms < to_ms:
        return from_ms <= shown < to_ms
    return shown >= from_ms or shown < to_ms
