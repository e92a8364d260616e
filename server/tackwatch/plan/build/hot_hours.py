"""When a window closes by the table of the hottest hour, for paint laid at many instants.

Theory
------
`trade.hottest_hour` follows the temperature from one coat on. Here the runs above a row's
temperature are found once; for paint laid at p, a temperature was first held for an hour at p and an
hour inside the run in which p lies, if so much is left of it, else an hour after the beginning of
the next run that is long enough.

Rules
-----
* Those of `trade.hottest_hour`, to which tests hold this.

Source
------
UFGS-09971, 3.7.1.4.
"""

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from tackwatch.trade.dose import Piece, day_pieces, lead_pieces
from tackwatch.trade.types import Band, HottestHourRow, Track
from tackwatch.trade.units import S_PER_HOUR, S_PER_MINUTE

Floats = NDArray[np.float64]


def closes_by_hot_hours(
    rows: Sequence[HottestHourRow], track: Track, laid_s: Floats, edge: float, band: Band
) -> Floats:
    """Give when the table closes the window of paint laid at each instant (in order).

    Parameters
    ----------
    rows : sequence of HottestHourRow
        The table, cool to hot.
    laid_s : array
        Instants in seconds since the epoch, rising.
    """
    first_close_s = laid_s + rows[0].closes_minutes * S_PER_MINUTE
    until_s = float(first_close_s[-1])
    pieces = list(_pieces(track, float(laid_s[0]), until_s, edge, band))
    closes_s = first_close_s
    for cooler, row in itertools.pairwise(rows):
        held_s = _held(_runs(pieces, cooler.to_c), laid_s)
        closes_s = np.minimum(
            closes_s, np.maximum(laid_s + row.closes_minutes * S_PER_MINUTE, held_s)
        )
    return closes_s


def _pieces(
    track: Track, from_s: float, until_s: float, edge: float, band: Band
) -> Iterator[Piece]:
    at_s = from_s
    for piece in lead_pieces(track, from_s, edge, band):
        at_s = piece[1]
        yield piece
    while at_s < until_s:
        for piece in day_pieces(track, at_s, edge, band):
            at_s = piece[1]
            yield piece


def _runs(pieces: Sequence[Piece], above_c: float) -> Floats:
    """Give the spans, one a row, in which the temperature is above the given one."""
    runs: list[list[float]] = []
    for from_s, to_s, from_c, to_c in pieces:
        if from_c <= above_c and to_c <= above_c:
            continue
        if min(from_c, to_c) <= above_c:
            crossing_s = from_s + (above_c - from_c) / (to_c - from_c) * (to_s - from_s)
            from_s, to_s = (from_s, crossing_s) if from_c > above_c else (crossing_s, to_s)
        if runs and from_s <= runs[-1][1]:
            runs[-1][1] = to_s
        else:
            runs.append([from_s, to_s])
    return np.array(runs, dtype=np.float64).reshape(-1, 2)


def _held(runs: Floats, laid_s: Floats) -> Floats:
    """Give the first instant by which a run has lasted an hour since the paint was laid."""
    long = runs[runs[:, 1] - runs[:, 0] >= S_PER_HOUR]
    if not len(long):
        return np.full_like(laid_s, np.inf)
    begins = np.append(long[:, 0], np.inf)
    # The first run of which an hour is left.
    run = np.searchsorted(long[:, 1] - S_PER_HOUR, laid_s)
    return np.asarray(np.maximum(begins[run], laid_s) + S_PER_HOUR)
