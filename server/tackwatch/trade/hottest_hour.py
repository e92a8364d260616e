"""When a window closes by a table of the hottest hour.

Theory
------
Some sheets print the recoat window against the highest surface temperature that was held for an
hour since the last coat. A hot noon shortens the window for good: no average can show that.

Rules
-----
* The row of a temperature is the first whose `to_c` is not below it: between two rows the hotter
  one counts, below the table the coolest row, above the table the hottest row (marked).
* Row j comes into force at the first instant by which a temperature above row j-1 was held for an
  hour without a break, counted from the coat. From then on the window closes at the row's time
  after the coat, or at once when that is past. The window closes at the earliest over all rows.
* Times must not rise with temperature (checked when a profile is read), so hotter never closes
  later.

Source
------
UFGS-09971, 3.7.1.4, polyurethane over polyurethane.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tackwatch.trade.dose import Piece, day_pieces, lead_pieces
from tackwatch.trade.types import Band, HottestHourRow, Track
from tackwatch.trade.units import S_PER_HOUR, S_PER_MINUTE


@dataclass(frozen=True, slots=True)
class ClosedByTable:
    """When the table closes the window, and whether a temperature lay outside the table."""

    at_s: float
    above_table: bool
    below_table: bool


def closes_by_table(
    rows: Sequence[HottestHourRow], track: Track, start_s: float, edge: float, band: Band
) -> ClosedByTable:
    """Say when the table closes the window of paint laid at an instant.

    Source
    ------
    See the head of the module.
    """
    first_close_s = start_s + rows[0].closes_minutes * S_PER_MINUTE
    thresholds = [rows[0].from_c, *(row.to_c for row in rows)]
    held = [
        _held_at(_pieces(track, start_s, edge, band), threshold_c, first_close_s)
        for threshold_c in thresholds
    ]
    closes_s = first_close_s
    for row, held_s in zip(rows[1:], held[1:], strict=False):
        if held_s is not None:
            closes_s = min(closes_s, max(start_s + row.closes_minutes * S_PER_MINUTE, held_s))
    above_s, warm_s = held[-1], held[0]
    return ClosedByTable(
        at_s=closes_s,
        above_table=above_s is not None and above_s <= closes_s,
        below_table=warm_s is None or warm_s > closes_s,
    )


def _pieces(track: Track, from_s: float, edge: float, band: Band) -> Iterator[Piece]:
    """Give the pieces from an instant on, without end."""
    at_s = from_s
    for piece in lead_pieces(track, from_s, edge, band):
        at_s = piece[1]
        yield piece
    while True:
        for piece in day_pieces(track, at_s, edge, band):
            at_s = piece[1]
            yield piece


def _held_at(pieces: Iterator[Piece], above_c: float, until_s: float) -> float | None:
    """Give the first instant by which a temperature above the given one was held for an hour."""
    run_from_s: float | None = None
    run_to_s = 0.0
    for from_s, to_s, from_c, to_c in pieces:
        if from_s >= until_s:
            return None
        span = _above(from_s, to_s, from_c, to_c, above_c)
        if span is None:
            continue
        if run_from_s is None or span[0] > run_to_s:
            run_from_s = span[0]
        run_to_s = span[1]
        if run_to_s - run_from_s >= S_PER_HOUR:
            return run_from_s + S_PER_HOUR
    return None


def _above(
    from_s: float, to_s: float, from_c: float, to_c: float, above_c: float
) -> tuple[float, float] | None:
    """Give the part of a straight piece that lies above a temperature."""
    if from_c <= above_c and to_c <= above_c:
        return None
    if from_c > above_c and to_c > above_c:
        return from_s, to_s
    crossing_s = from_s + (above_c - from_c) / (to_c - from_c) * (to_s - from_s)
    return (from_s, crossing_s) if from_c > above_c else (crossing_s, to_s)
