"""The temperature that the work has had and is going to have.

Theory
------
A cure needs the temperature at every instant; a meter gives it now and then. Between readings that
lie close together a straight line does. Everywhere else the refit's daily curve stands in: a cosine
of the local hour between a usual minimum and maximum. The curve is fitted to what was measured of
late, and drawn through the neighbouring readings by fading their difference from it.

Rules
-----
* A surface temperature is preferred to an air temperature; a reading with neither is passed over.
  Order does not matter, and readings of one instant count as their mean.
* Readings at most `JOIN_GAP_S` apart are joined by a straight line, and count as measured.
* Across a longer gap the fitted curve runs, plus the difference at both ends, joined linearly:
  two readings at five in the afternoon and ten in the morning do not make a warm night.
* After the last reading the fitted curve runs, plus the difference at the last reading, which
  fades out over `FADE_S`. The last day then repeats for ever.
* Before the first reading the first is held for `JOIN_GAP_S`; farther back it fades to the curve.
* Only pieces between joined readings are measured; all others carry the forecast's wider band.
* The fit is ridge least squares of mean and amplitude over the readings of the last `FIT_OVER_S`,
  drawn toward the configured curve with the weight of `RIDGE_MEAN_N` and `RIDGE_SWING_N` readings:
  one reading moves the curve a little, a day of them moves it all the way.
* All later arithmetic sees the knots only, so that two implementations agree.

Source
------
Our own; joining and forecasting are choices, not trade facts.
"""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import ceil, cos, pi
from typing import Final

from tackwatch.trade.instants import seconds_of
from tackwatch.trade.types import DailyCurve, Knot, Reading, Track
from tackwatch.trade.units import S_PER_DAY, S_PER_HOUR

STEP_S: Final = 1800.0
JOIN_GAP_S: Final = 3.0 * S_PER_HOUR
FADE_S: Final = 3.0 * S_PER_HOUR
FIT_OVER_S: Final = 72.0 * S_PER_HOUR
RIDGE_MEAN_N: Final = 1.0
RIDGE_SWING_N: Final = 4.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class FittedCurve:
    """The daily cosine after fitting: mean, swing to either side, local hour of the maximum."""

    mean_c: float
    swing_k: float
    hour_of_max: float
    utc_offset_s: float

    def temp_c(self, at_s: float) -> float:
        """Give the temperature that the curve expects at an instant."""
        return self.mean_c + self.swing_k * _phase(at_s, self.hour_of_max, self.utc_offset_s)


def track_of(readings: Iterable[Reading], curve: DailyCurve, start_at: datetime) -> Track:
    """Draw the temperature from an instant on, for ever.

    Parameters
    ----------
    readings : iterable of Reading
        What was measured, in any order; those before the start help the fit and the joining.
    curve : DailyCurve
        The refit's usual day.
    start_at : datetime
        Where the track begins: the start of the earliest coat or pot that is to be asked about.

    Source
    ------
    See the head of the module.
    """
    points = measured_points(readings)
    start_s = seconds_of(start_at, "start_at")
    fitted = fitted_curve(curve, points)
    if not points:
        instants = _grid(start_s, start_s + S_PER_DAY)
        knots = [Knot(at_s, fitted.temp_c(at_s), measured=False) for at_s in instants]
        return Track(knots=tuple(knots), repeats_from=0, last_reading_at_s=None)
    knots = _past_knots(points, fitted, start_s)
    tail = _tail_instants(max(start_s, points[-1][0]), points[-1][0])
    knots += [Knot(at_s, _temp_at(points, fitted, at_s), measured=False) for at_s in tail[1:]]
    days_knots = round(S_PER_DAY / STEP_S)
    return Track(
        knots=tuple(knots),
        repeats_from=len(knots) - 1 - days_knots,
        last_reading_at_s=points[-1][0],
    )


def steady_track(temp_c: float, start_at: datetime, measured: bool = True) -> Track:
    """Give a track of one steady temperature, for tables and for what-if questions."""
    start_s = seconds_of(start_at, "start_at")
    knots = (Knot(start_s, temp_c, measured), Knot(start_s + S_PER_DAY, temp_c, measured))
    return Track(knots=knots, repeats_from=0, last_reading_at_s=start_s if measured else None)


def at_least(track: Track, temp_c: float) -> Track:
    """Give the track with everything below a temperature raised to it."""
    knots = [_raised(track.knots[0], temp_c)]
    repeats_from = 0
    for i, (left, right) in enumerate(pairwise(track.knots)):
        if i == track.repeats_from:
            repeats_from = len(knots) - 1
        if (left.temp_c - temp_c) * (right.temp_c - temp_c) < 0.0:
            share = (temp_c - left.temp_c) / (right.temp_c - left.temp_c)
            at_s = left.at_s + (right.at_s - left.at_s) * share
            if left.at_s < at_s < right.at_s:
                knots.append(Knot(at_s, temp_c, right.measured))
        knots.append(_raised(right, temp_c))
    return Track(tuple(knots), repeats_from, track.last_reading_at_s)


def measured_points(readings: Iterable[Reading]) -> list[Point]:
    """Give (seconds, temperature) in order, one an instant, the surface before the air."""
    by_instant: dict[float, list[float]] = {}
    for reading in readings:
        temp_c = reading.air_c if reading.surface_c is None else reading.surface_c
        if temp_c is not None:
            by_instant.setdefault(seconds_of(reading.at, "readings.at"), []).append(temp_c)
    return [(at_s, sum(sorted(temps)) / len(temps)) for at_s, temps in sorted(by_instant.items())]


def fitted_curve(curve: DailyCurve, points: list[Point]) -> FittedCurve:
    """Fit the daily curve to the latest points: ridge least squares of its mean and swing."""
    mean_c = (curve.min_c + curve.max_c) / 2.0
    swing_k = (curve.max_c - curve.min_c) / 2.0
    n, s_x, s_xx, s_d, s_dx = 0.0, 0.0, 0.0, 0.0, 0.0
    for at_s, temp_c in points:
        if at_s >= points[-1][0] - FIT_OVER_S:
            x = _phase(at_s, curve.hour_of_max, curve.utc_offset_s)
            difference = temp_c - mean_c - swing_k * x
            n, s_x, s_xx = n + 1.0, s_x + x, s_xx + x * x
            s_d, s_dx = s_d + difference, s_dx + difference * x
    a, c = n + RIDGE_MEAN_N, s_xx + RIDGE_SWING_N
    determinant = a * c - s_x * s_x
    return FittedCurve(
        mean_c=mean_c + (c * s_d - s_x * s_dx) / determinant,
        swing_k=max(0.0, swing_k + (a * s_dx - s_x * s_d) / determinant),
        hour_of_max=curve.hour_of_max,
        utc_offset_s=curve.utc_offset_s,
    )


def _phase(at_s: float, hour_of_max: float, utc_offset_s: float) -> float:
    hour = ((at_s + utc_offset_s) % S_PER_DAY) / S_PER_HOUR
    return cos(2.0 * pi * (hour - hour_of_max) / 24.0)


def _grid(from_s: float, to_s: float) -> list[float]:
    """Give the instants from one to the other, both with, at most a step apart."""
    n = max(1, ceil((to_s - from_s) / STEP_S - 1e-9))
    return [from_s + i * STEP_S for i in range(n)] + [to_s]


def _past_knots(points: list[Point], fitted: FittedCurve, start_s: float) -> list[Knot]:
    """Give the knots from the start to the last reading (or the start alone when it is later)."""
    first_s = points[0][0]
    knots = [Knot(start_s, _temp_at(points, fitted, start_s), measured=False)]
    if start_s < first_s:
        for at_s in _grid(start_s, first_s)[1:]:
            knots.append(Knot(at_s, _temp_at(points, fitted, at_s), measured=False))
    for (from_s, _), (to_s, temp_c) in pairwise(points):
        if to_s > start_s:
            joined = to_s - from_s <= JOIN_GAP_S
            inner = [] if joined else _grid(max(from_s, start_s), to_s)[1:-1]
            knots += [Knot(at_s, _temp_at(points, fitted, at_s), measured=False) for at_s in inner]
            knots.append(Knot(to_s, temp_c, measured=joined))
    return knots


def _tail_instants(from_s: float, last_s: float) -> list[float]:
    """Give the instants after the last reading: to the end of the fade, then one whole day."""
    settled_s = max(from_s, last_s + FADE_S)
    lead = _grid(from_s, settled_s) if settled_s > from_s else [settled_s]
    return lead + _grid(settled_s, settled_s + S_PER_DAY)[1:]


def _temp_at(points: list[Point], fitted: FittedCurve, at_s: float) -> float:
    """Give the temperature at an instant by the rules at the head of the module."""
    (first_s, first_c), (last_s, last_c) = points[0], points[-1]
    curve_c = fitted.temp_c(at_s)
    if at_s >= last_s:
        share = max(0.0, 1.0 - (at_s - last_s) / FADE_S)
        return curve_c + share * (last_c - fitted.temp_c(last_s))
    if at_s < first_s:
        held_s = first_s - JOIN_GAP_S
        if at_s >= held_s:
            return first_c
        share = max(0.0, 1.0 - (held_s - at_s) / FADE_S)
        return curve_c + share * (first_c - fitted.temp_c(held_s))
    i = bisect_left(points, at_s, key=lambda point: point[0])
    if points[i][0] == at_s:
        return points[i][1]
    (from_s, from_c), (to_s, to_c) = points[i - 1], points[i]
    share = (at_s - from_s) / (to_s - from_s)
    if to_s - from_s <= JOIN_GAP_S:
        return from_c + (to_c - from_c) * share
    left_k, right_k = from_c - fitted.temp_c(from_s), to_c - fitted.temp_c(to_s)
    return curve_c + left_k + (right_k - left_k) * share


def _raised(knot: Knot, temp_c: float) -> Knot:
    return Knot(knot.at_s, max(knot.temp_c, temp_c), knot.measured)
