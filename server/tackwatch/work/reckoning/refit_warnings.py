"""The warnings that belong to no single coat or step: the launch comes near, and nobody takes a reading.

Rules
-----
- ``launch_countdown`` is told seven, three and one day before the launch, at its time of day; each until the next. One
  that had passed already when the launch was booked is not told.
- ``reading_stale`` is told to who has a coat that still opens or closes, six hours after the last reading (or after
  that coat began, if that was later), where it does so after that. A new reading moves it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from tackwatch.merge.state import Item
from tackwatch.trade.cure import STALE_AFTER_S
from tackwatch.trade.warnings import Warning, iso_of
from tackwatch.work.reckoning.quiet import offset_s
from tackwatch.work.reckoning.rows import at_of
from tackwatch.work.reckoning.step_warnings import written_at

COUNTED_DAYS = (7, 3, 1)
LEANS_ON_READINGS = ("recoat_open", "recoat_closing", "recoat_missed", "sandable")


def launch_warnings(refit: Item) -> list[Warning]:
    """Give the countdown to the launch."""
    if not refit.fields.get("launch_at"):
        return []
    launch_at = at_of(refit.fields["launch_at"])
    zone = str(refit.fields["time_zone"])
    told = [_days_before(launch_at, days, zone) for days in COUNTED_DAYS]
    booked_at = written_at(refit, "launch_at")
    return [
        Warning(
            f"{refit.id}.launch_countdown_{days}",
            "launch_countdown",
            refit.id,
            due_at,
            useless,
            {"launch_at": iso_of(launch_at), "days": str(days)},
        )
        for days, (due_at, useless) in zip(COUNTED_DAYS, pairwise([*told, launch_at]), strict=True)
        if booked_at <= due_at
    ]


def stale_warning(
    refit: Item, last_at: datetime | None, coats: Iterable[tuple[datetime, Sequence[Warning]]]
) -> Warning | None:
    """Give the warning that a reading is wanted.

    Parameters
    ----------
    last_at
        When the temperature was measured last.
    coats
        Of each coat its start and the warnings of it that a person gets.
    """
    limit = timedelta(seconds=STALE_AFTER_S)
    found = []
    for start_at, warnings in coats:
        stale_at = max(start_at, last_at or start_at) + limit
        until = [one.due_at for one in warnings if one.kind in LEANS_ON_READINGS]
        if until and max(until) > stale_at:
            found.append((stale_at, max(until)))
    if not found:
        return None
    params: dict[str, str | bool] = {"measured_at": iso_of(last_at)} if last_at else {}
    return Warning(
        f"{refit.id}.reading_stale",
        "reading_stale",
        refit.id,
        min(at for at, _ in found),
        max(until for _, until in found),
        params,
    )


def _days_before(at: datetime, days: int, zone: str) -> datetime:
    """Give the instant with the same time of day so many days earlier."""
    ms = round((at - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(milliseconds=1))
    back = ms - days * 86_400_000
    shift = offset_s(zone, ms) - offset_s(zone, back)
    return at - timedelta(days=days) + timedelta(seconds=shift)
