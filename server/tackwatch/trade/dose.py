"""When a stage is reached at a changing temperature.

Theory
------
Equivalent age: in dt the stage advances by dt / tau(T). The sum of that since the start is the dose;
the stage is reached when the dose is 1. This is the maturity method with an Arrhenius rate.

Rules
-----
* The track is straight between knots. A piece is cut where it crosses a temperature of the data
  sheet, because the law has a kink there, and so that no part spans more than `SPAN_K`; each part
  is summed by Simpson. With an activation energy of 100 kJ/mol the error of a part is below one in
  a million of the time that it spans.
* The instant inside the last part is found by Newton, held between the part's ends.
* The end of a track repeats a day for ever: whole days are stepped over by their dose.
* The basis is the poorest met between the start and the instant.
* An edge moves the temperature by the half width of the band, `measured_k` or `forecast_k` by
  piece: 1.0 for the fast edge, -1.0 for the slow one, 0.0 for the track as it stands.

Source
------
ASTM C1074 (equivalent age), EN 1992-1-1 equation B.10, applied to resin and paint.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from typing import Final

from tackwatch.trade.arrhenius import Law, law_of
from tackwatch.trade.types import Band, Basis, StagePoint, Track
from tackwatch.trade.units import S_PER_DAY

SPAN_K: Final = 2.0
HORIZON_S: Final = 400.0 * S_PER_DAY
NEWTON_ROUNDS: Final = 40
NEWTON_S: Final = 1e-7
TOUCH_S: Final = 1e-3

Piece = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Reached:
    """The instant at which a stage is reached, and the poorest basis met on the way."""

    at_s: float
    basis: Basis


def reach(
    points: Sequence[StagePoint],
    track: Track,
    start_at_s: float,
    edge: float = 0.0,
    band: Band | None = None,
    horizon_s: float = HORIZON_S,
) -> Reached | None:
    """Say when a stage that began at an instant is reached; None when past the horizon.

    Parameters
    ----------
    points : sequence of StagePoint
        The data sheet's points of the stage.
    track : Track
        The temperature.
    start_at_s : float
        When it began, in seconds since the epoch.
    edge : float
        1.0 for the fast edge, -1.0 for the slow one, 0.0 for the track as it stands.
    band : Band, optional
        The half widths of the band.
    horizon_s : float
        How far after the start to look.

    Source
    ------
    See the head of the module.
    """
    line = DoseLine(law_of(points), track, start_at_s, edge, band or Band())
    return line.reached(start_at_s, horizon_s)


def lead_pieces(track: Track, from_s: float, edge: float, band: Band) -> Iterator[Piece]:
    """Give the straight pieces from an instant to the end of the track's first run.

    An instant past the end is led to the end of the repeated day in which it lies.
    """
    first, end_s = track.knots[0], track.knots[-1].at_s
    if from_s < first.at_s:
        temp_c = first.temp_c + edge * band.forecast_k
        yield from_s, first.at_s, temp_c, temp_c
    offset_s = (
        0.0
        if from_s < end_s
        else period_s(track) * (floor((from_s - end_s) / period_s(track)) + 1.0)
    )
    inside_s = from_s - offset_s
    i = max(1, bisect_right(track.knots, inside_s, key=lambda knot: knot.at_s))
    for left, right in zip(track.knots[i - 1 :], track.knots[i:], strict=False):
        shift_k = edge * (band.measured_k if right.measured else band.forecast_k)
        at_s, temp_c = left.at_s, left.temp_c
        if at_s < inside_s:
            share = (inside_s - at_s) / (right.at_s - at_s)
            at_s, temp_c = inside_s, temp_c + (right.temp_c - temp_c) * share
        yield at_s + offset_s, right.at_s + offset_s, temp_c + shift_k, right.temp_c + shift_k


def day_pieces(track: Track, begin_s: float, edge: float, band: Band) -> Iterator[Piece]:
    """Give the pieces of the repeated day, moved so that it begins at an instant."""
    knots = track.knots[track.repeats_from :]
    offset_s = begin_s - knots[0].at_s
    for left, right in pairwise(knots):
        shift_k = edge * (band.measured_k if right.measured else band.forecast_k)
        yield (
            left.at_s + offset_s,
            right.at_s + offset_s,
            left.temp_c + shift_k,
            right.temp_c + shift_k,
        )


def period_s(track: Track) -> float:
    """Give the length of the part of the track that repeats."""
    return track.knots[-1].at_s - track.knots[track.repeats_from].at_s


class DoseLine:
    """The dose of one stage against time on one edge, summed as far as it was asked for.

    Several questions to one line (the first paint, the last paint) share the sums.
    """

    __slots__ = (
        "_at_s",
        "_beyond_n",
        "_days_from",
        "_dose",
        "_law",
        "_parts",
        "_pieces",
        "_rate",
        "_temps_c",
    )

    def __init__(self, law: Law, track: Track, from_s: float, edge: float, band: Band) -> None:
        self._law = law
        self._at_s = [from_s]
        self._dose = [0.0]
        self._beyond_n = [0]
        self._temps_c: list[tuple[float, float]] = []
        self._rate = 0.0
        self._days_from = 0
        self._pieces = self._all_pieces(track, from_s, edge, band)

    def reached(self, start_s: float, horizon_s: float = HORIZON_S) -> Reached | None:
        """Say when the stage that began at an instant is reached; None when past the horizon."""
        at_s = self._at_dose(self._dose_at(start_s) + 1.0, start_s + horizon_s)
        if at_s is None:
            return None
        return Reached(at_s, self._law.basis(self._went_beyond(start_s, at_s)))

    def basis_so_far(self) -> Basis:
        """Name the poorest basis over all that was summed: for a stage that was not reached."""
        return self._law.basis(beyond=self._beyond_n[-1] > 0)

    def _all_pieces(self, track: Track, from_s: float, edge: float, band: Band) -> Iterator[Piece]:
        yield from lead_pieces(track, from_s, edge, band)
        self._days_from = len(self._at_s) - 1
        yield from day_pieces(track, self._at_s[-1], edge, band)

    def _extend(self) -> bool:
        """Sum one more piece; False when the whole repeated day is summed."""
        piece = next(self._pieces, None)
        if piece is None:
            return False
        from_s, to_s, from_c, to_c = piece
        law = self._law
        cuts = _cuts(law.temps_c, from_c, to_c)
        at_s, temp_c, rate = from_s, from_c, law.rate(from_c)
        for share in cuts:
            next_s = to_s if share == 1.0 else from_s + (to_s - from_s) * share
            next_c = to_c if share == 1.0 else from_c + (to_c - from_c) * share
            middle_c = (temp_c + next_c) / 2.0
            next_rate = law.rate(next_c)
            part = (next_s - at_s) / 6.0 * (rate + 4.0 * law.rate(middle_c) + next_rate)
            self._at_s.append(next_s)
            self._dose.append(self._dose[-1] + part)
            self._beyond_n.append(self._beyond_n[-1] + law.beyond(middle_c))
            self._temps_c.append((temp_c, next_c))
            at_s, temp_c, rate = next_s, next_c, next_rate
        return True

    def _day(self) -> tuple[float, float, float]:
        """Give the repeated day: where it ends, its length and its dose (all pieces are summed)."""
        length_s = self._at_s[-1] - self._at_s[self._days_from]
        return self._at_s[-1], length_s, self._dose[-1] - self._dose[self._days_from]

    def _at_dose(self, dose: float, horizon_at_s: float) -> float | None:
        while self._dose[-1] < dose:
            if self._at_s[-1] > horizon_at_s:
                return None
            if not self._extend():
                break
        later_s = 0.0
        if self._dose[-1] < dose:
            _, length_s, day_dose = self._day()
            if (horizon_at_s - self._at_s[-1]) / length_s * day_dose < dose - self._dose[
                -1
            ] - day_dose:
                return None
            days = floor((dose - self._dose[-1]) / day_dose) + 1.0
            dose, later_s = dose - days * day_dose, days * length_s
        i = min(max(bisect_left(self._dose, dose), 1), len(self._dose) - 1)
        at_s = self._root(i - 1, dose - self._dose[i - 1]) + later_s
        return at_s if at_s <= horizon_at_s else None

    def _dose_at(self, at_s: float) -> float:
        while self._at_s[-1] < at_s and self._extend():
            pass
        days = 0.0
        more = 0.0
        if self._at_s[-1] < at_s:
            end_s, length_s, day_dose = self._day()
            days = floor((at_s - end_s) / length_s) + 1.0
            at_s, more = at_s - days * length_s, days * day_dose
        if at_s <= self._at_s[0]:
            return more
        i = min(max(bisect_left(self._at_s, at_s), 1), len(self._at_s) - 1)
        return self._dose[i - 1] + self._part(i - 1, at_s - self._at_s[i - 1])[0] + more

    def _part(self, i: int, span_s: float) -> tuple[float, float]:
        """Give the dose of the beginning of a part, and the rate at its end."""
        from_c, to_c = self._temps_c[i]
        end_c = from_c + (to_c - from_c) * (span_s / (self._at_s[i + 1] - self._at_s[i]))
        rate, end_rate = self._law.rate, self._law.rate(end_c)
        dose = span_s / 6.0 * (rate(from_c) + 4.0 * rate((from_c + end_c) / 2.0) + end_rate)
        return dose, end_rate

    def _root(self, i: int, dose: float) -> float:
        """Give the instant in a part at which its dose since the part's beginning is reached."""
        low_s, high_s = 0.0, self._at_s[i + 1] - self._at_s[i]
        span_s = high_s * dose / (self._dose[i + 1] - self._dose[i])
        for _ in range(NEWTON_ROUNDS):
            got, rate = self._part(i, span_s)
            if got < dose:
                low_s = span_s
            else:
                high_s = span_s
            next_s = span_s + (dose - got) / rate
            if not low_s <= next_s <= high_s:
                next_s = (low_s + high_s) / 2.0
            done, span_s = abs(next_s - span_s) < NEWTON_S, next_s
            if done:
                break
        return self._at_s[i] + span_s

    def _went_beyond(self, from_s: float, to_s: float) -> bool:
        i = bisect_right(self._at_s, from_s + TOUCH_S) - 1
        j = bisect_left(self._at_s, to_s - TOUCH_S)
        if j >= len(self._at_s):
            j = len(self._at_s) - 1
            i = min(i, self._days_from)
        return self._beyond_n[j] > self._beyond_n[max(0, i)]


def _cuts(temps_c: tuple[float, ...], from_c: float, to_c: float) -> list[float]:
    """Give the shares of a piece at which its parts end, the last being 1."""
    low_c, high_c = (from_c, to_c) if from_c < to_c else (to_c, from_c)
    if high_c - low_c <= SPAN_K and bisect_right(temps_c, low_c) >= bisect_left(temps_c, high_c):
        return [1.0]
    rise_k = to_c - from_c
    shares = {(temp_c - from_c) / rise_k for temp_c in temps_c if low_c < temp_c < high_c}
    n = ceil(abs(rise_k) / SPAN_K - 1e-9)
    shares.update(i / n for i in range(1, n))
    return [*sorted(share for share in shares if 0.0 < share < 1.0), 1.0]
