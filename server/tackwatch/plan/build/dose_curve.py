"""The dose of a stage against time, for many instants at once.

Theory
------
All paint of one product stands under one temperature law, so that its dose is a difference of one
curve: paint laid at p reaches its stage when F(t) = F(p) + 1, F being the sum of the rate. One curve
thus answers for every coat of the product, whenever it is laid.

Rules
-----
* The sums are those of `trade.dose`: cut at the sheet's temperatures and into parts of at most
  `SPAN_K`, by Simpson, the last instant by Newton. They are written anew here for arrays, and tests
  hold the two together.
* Only the track's first run and one of the repeated days are kept; what is later is folded by whole
  days and their dose.
* What is not reached within `HORIZON_S` of its beginning is never reached: infinity.

Source
------
`trade.dose`.
"""

import itertools
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from tackwatch.trade.arrhenius import DOUBLING_K, Law
from tackwatch.trade.dose import HORIZON_S, SPAN_K, Piece, day_pieces, lead_pieces
from tackwatch.trade.types import Band, Track
from tackwatch.trade.units import KELVIN_AT_0_C

Floats = NDArray[np.float64]
NEWTON_ROUNDS = 8


class DoseCurve:
    """The dose of one law on one edge of the temperature, from an instant on, for ever.

    Parameters
    ----------
    law : Law
        How fast the stage goes at a temperature.
    track : Track
        The temperature.
    from_s : float
        The earliest instant that is asked about, in seconds since the epoch.
    edge : float
        1.0 for the fast edge, -1.0 for the slow one.
    band : Band
        The half widths of the temperature band.
    """

    def __init__(self, law: Law, track: Track, from_s: float, edge: float, band: Band) -> None:
        self._law = law
        lead = _parts(law, lead_pieces(track, from_s, edge, band))
        lead_end_s = float(lead[1][-1]) if lead.shape[1] else from_s
        day = _parts(law, day_pieces(track, lead_end_s, edge, band))
        parts = np.concatenate((lead, day), axis=1)
        self._from_s, self._to_s, self._from_c, self._to_c = parts
        self._dose = np.concatenate(([0.0], np.cumsum(self._simpson(*parts))))
        self._end_s = float(self._to_s[-1])
        self._day_s = self._end_s - lead_end_s
        self._day_dose = float(self._dose[-1] - self._dose[lead.shape[1]])

    def reached(self, laid_s: Floats) -> Floats:
        """Give when the stage is reached for what was laid at each instant; infinity for never."""
        wanted = self.dose_at(laid_s) + 1.0
        days = np.maximum(0.0, np.ceil((wanted - self._dose[-1]) / self._day_dose - 1e-12))
        inside = wanted - days * self._day_dose
        part = np.clip(np.searchsorted(self._dose, inside) - 1, 0, len(self._from_s) - 1)
        at_s = self._root(part, inside - self._dose[part]) + days * self._day_s
        return np.where(at_s - laid_s <= HORIZON_S, at_s, np.inf)

    def dose_at(self, at_s: Floats) -> Floats:
        """Give the dose from the curve's beginning to each instant."""
        days = np.maximum(0.0, np.ceil((at_s - self._end_s) / self._day_s))
        inside_s = at_s - days * self._day_s
        part = np.clip(
            np.searchsorted(self._from_s, inside_s, "right") - 1, 0, len(self._from_s) - 1
        )
        dose, _ = self._part(part, inside_s - self._from_s[part])
        return np.asarray(self._dose[part] + dose + days * self._day_dose)

    def _simpson(self, from_s: Floats, to_s: Floats, from_c: Floats, to_c: Floats) -> Floats:
        rate = self._rate(from_c) + 4.0 * self._rate((from_c + to_c) / 2.0) + self._rate(to_c)
        return (to_s - from_s) / 6.0 * rate

    def _part(self, part: NDArray[np.int64], span_s: Floats) -> tuple[Floats, Floats]:
        """Give the dose of the beginning of each part, and the rate at its end."""
        from_c = self._from_c[part]
        share = span_s / (self._to_s[part] - self._from_s[part])
        end_c = from_c + (self._to_c[part] - from_c) * share
        return self._simpson(np.zeros_like(span_s), span_s, from_c, end_c), self._rate(end_c)

    def _root(self, part: NDArray[np.int64], dose: Floats) -> Floats:
        """Give the instants in the parts at which their doses since the parts' beginnings are reached."""
        long_s = self._to_s[part] - self._from_s[part]
        span_s = long_s * dose / (self._dose[part + 1] - self._dose[part])
        for _ in range(NEWTON_ROUNDS):
            got, rate = self._part(part, span_s)
            span_s = np.clip(span_s + (dose - got) / rate, 0.0, long_s)
        return np.asarray(self._from_s[part] + span_s)

    def _rate(self, temp_c: Floats) -> Floats:
        law = self._law
        if not law.lines:
            ln_s = law.ln_seconds - np.log(2.0) * (temp_c - law.temps_c[0]) / DOUBLING_K
        else:
            a, b = np.array(law.lines).T
            line = np.searchsorted(np.array(law.kinks_c), temp_c)
            ln_s = a[line] + b[line] / (temp_c + KELVIN_AT_0_C)
        return np.asarray(np.exp(-ln_s))


def _parts(law: Law, pieces: Iterable[Piece]) -> Floats:
    """Cut straight pieces where the law has a kink and where they are steep: four rows, a column a part."""
    cut = [part for piece in pieces for part in _cut(law, piece)]
    return np.array(cut, dtype=np.float64).reshape(-1, 4).T


def _cut(law: Law, piece: Piece) -> list[Piece]:
    from_s, to_s, from_c, to_c = piece
    low_c, high_c = min(from_c, to_c), max(from_c, to_c)
    shares = {
        (temp_c - from_c) / (to_c - from_c) for temp_c in law.temps_c if low_c < temp_c < high_c
    }
    n = max(1, int(np.ceil((high_c - low_c) / SPAN_K)))
    ends = [0.0, *sorted(shares | {i / n for i in range(1, n)}), 1.0]
    return [
        (
            from_s + (to_s - from_s) * left,
            from_s + (to_s - from_s) * right,
            from_c + (to_c - from_c) * left,
            from_c + (to_c - from_c) * right,
        )
        for left, right in itertools.pairwise(ends)
        if left < right
    ]
