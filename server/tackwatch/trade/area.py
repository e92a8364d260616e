"""Area from measured girths, by Simpson's rule.

Theory
------
A girth is measured round the hull at each station. The area is the integral of the girth over the
length: parabolas through three stations at a time, of equal or unequal spacing. With an even number
of stations one interval is left; the parabola through the last three covers it (Cartwright). Two
stations give a straight line.

Rules
-----
* The slope of the surface between stations is left out: on a bluff bow the area comes out a little
  low, which is said (`slope_left_out`).
* Neighbouring spacings may differ by at most 2 to 1: past that a parabola gives negative weight.
* Girths of one side are doubled, for a hull has two.
* Openings are taken away once, from the whole; more than there is, is refused.

Source
------
Simpson's rule; K. V. Cartwright, "Simpson's rule cumulative integration with MS Excel and
irregularly-spaced data", J. Math. Sciences and Math. Education 12 (2017), as in SciPy's
`integrate.simpson`.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import fsum
from typing import Final

from tackwatch.trade.errors import OutOfRangeError, TradeError

SPACING_RATIO_MOST: Final = 2.0
EDGE: Final = 1e-9


def spacings_m(
    stations_m: Sequence[float] | None, spacing_m: float | None, count: int
) -> list[float]:
    """Give the distance from each station to the next, from where they stand or from one spacing.

    Raises
    ------
    TradeError
        When both or neither are given, or the stations do not rise one to a girth.
    """
    if (stations_m is None) == (spacing_m is None):
        raise TradeError("spacing_m", "give the spacing or the stations, one of them")
    if stations_m is None:
        return [spacing_m or 0.0] * (count - 1)
    if len(stations_m) != count:
        raise TradeError("stations_m", "there must be one station to each girth")
    gaps = [after - before for before, after in pairwise(stations_m)]
    for i, gap in enumerate(gaps):
        if gap <= 0.0:
            raise TradeError(f"stations_m[{i + 1}]", "must lie beyond the station before it")
        if i and not _alike(gaps[i - 1], gap):
            raise OutOfRangeError(
                f"stations_m[{i + 1}]", "neighbouring spacings may differ by at most 2 to 1"
            )
    return gaps


def simpson(values: Sequence[float], gaps: Sequence[float]) -> float:
    """Integrate values over unequal spacings."""
    if len(values) == 2:
        return gaps[0] * (values[0] + values[1]) / 2.0
    whole_pairs = len(gaps) - len(gaps) % 2
    parts = [_pair(values[i : i + 3], gaps[i], gaps[i + 1]) for i in range(0, whole_pairs, 2)]
    if len(gaps) % 2:
        parts.append(_last(values[-3:], gaps[-2], gaps[-1]))
    return fsum(parts)


def less_openings_m2(gross_m2: float, openings_m2: Sequence[float]) -> float:
    """Take openings away.

    Raises
    ------
    OutOfRangeError
        When they are larger than the whole.
    """
    net_m2 = gross_m2 - fsum(openings_m2)
    if net_m2 < 0.0:
        raise OutOfRangeError("openings_m2", "must not be larger than the whole area")
    return net_m2


def _alike(one: float, other: float) -> bool:
    return max(one, other) <= SPACING_RATIO_MOST * min(one, other) * (1.0 + EDGE)


def _pair(y: Sequence[float], h0: float, h1: float) -> float:
    both = h0 + h1
    weights = (2.0 - h1 / h0, both * both / (h0 * h1), 2.0 - h0 / h1)
    return both / 6.0 * sum(w * v for w, v in zip(weights, y, strict=True))


def _last(y: Sequence[float], h0: float, h1: float) -> float:
    last = (2.0 * h1 * h1 + 3.0 * h0 * h1) / (6.0 * (h0 + h1))
    middle = (h1 * h1 + 3.0 * h0 * h1) / (6.0 * h0)
    first = h1 * h1 * h1 / (6.0 * h0 * (h0 + h1))
    return last * y[2] + middle * y[1] - first * y[0]
