"""How long a stage takes at a steady temperature.

Theory
------
Cure is chemistry: over the range of a data sheet its rate follows Arrhenius, so that ln(time) is a
straight line in 1/T (T in kelvin). Between two points of the sheet the line through them is used;
past the first or last point the end line goes on.

Rules
-----
* Inside the sheet's temperatures the basis is `data_sheet`, past them `beyond`.
* A sheet with a single point is carried to other temperatures by the rule that the rate doubles
  each 10 degC, and the basis is `rule_of_thumb`, at every temperature.
* Two equal times give a flat line: a limit that does not depend on temperature.
* A billionth of a degree past the sheet still counts as the sheet, so that rounding on two
  machines cannot make two answers.

Source
------
Arrhenius' law as used for maturity in ASTM C1074 (equivalent age); doubling per 10 degC as given in
UFGS-09971, 3.7.1.3.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log
from typing import Final

from tackwatch.trade.errors import TradeError
from tackwatch.trade.types import Basis, StagePoint
from tackwatch.trade.units import KELVIN_AT_0_C, S_PER_MINUTE

DOUBLING_K: Final = 10.0
SHEET_EDGE_K: Final = 1e-9


@dataclass(frozen=True, slots=True)
class StageTime:
    """How long a stage takes at a steady temperature, and on what basis."""

    seconds: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class Law:
    """The points of one stage made ready: ln(seconds) = a + b / T on each line.

    `temps_c` are the sheet's temperatures, rising; `kinks_c` those at which one line meets the
    next. A single point has no lines: `lines` is empty and `ln_seconds` is the time at it.
    """

    temps_c: tuple[float, ...]
    kinks_c: tuple[float, ...]
    lines: tuple[tuple[float, float], ...]
    ln_seconds: float

    def ln_time(self, temp_c: float) -> float:
        """Give ln(seconds) at a steady temperature."""
        if not self.lines:
            return self.ln_seconds - log(2.0) * (temp_c - self.temps_c[0]) / DOUBLING_K
        a, b = self.lines[bisect_left(self.kinks_c, temp_c)]
        return a + b / (temp_c + KELVIN_AT_0_C)

    def rate(self, temp_c: float) -> float:
        """Give the part of the stage that is done in a second at this temperature."""
        return exp(-self.ln_time(temp_c))

    def beyond(self, temp_c: float) -> bool:
        """Say whether the temperature lies past the sheet's first or last point."""
        low, high = self.temps_c[0] - SHEET_EDGE_K, self.temps_c[-1] + SHEET_EDGE_K
        return not low <= temp_c <= high

    def basis(self, beyond: bool) -> Basis:
        """Name the basis of an answer that went, or did not go, past the sheet."""
        if not self.lines:
            return "rule_of_thumb"
        return "beyond" if beyond else "data_sheet"


def law_of(points: Sequence[StagePoint]) -> Law:
    """Make the points of a stage ready for use.

    Raises
    ------
    TradeError
        When there are no points, two at one temperature, or a time that is not above zero.
    """
    if not points:
        raise TradeError("points", "a stage needs at least one point")
    if any(not point.minutes > 0.0 for point in points):
        raise TradeError("points", "a stage takes more than no time")
    ordered = sorted(points, key=lambda point: point.temp_c)
    temps = tuple(point.temp_c for point in ordered)
    logs = [log(point.minutes * S_PER_MINUTE) for point in ordered]
    if any(low == high for low, high in pairwise(temps)):
        raise TradeError("points", "two points stand at one temperature")
    lines = tuple(
        _line(temps[i], logs[i], temps[i + 1], logs[i + 1]) for i in range(len(temps) - 1)
    )
    return Law(temps_c=temps, kinks_c=temps[1:-1], lines=lines, ln_seconds=logs[0])


def stage_time(points: Sequence[StagePoint], temp_c: float) -> StageTime:
    """Give how long a stage takes at a steady temperature.

    Parameters
    ----------
    points : sequence of StagePoint
        The data sheet's points, in any order.
    temp_c : float
        The steady temperature.

    Source
    ------
    See the head of the module.
    """
    law = law_of(points)
    return StageTime(seconds=exp(law.ln_time(temp_c)), basis=law.basis(law.beyond(temp_c)))


def _line(temp_1_c: float, log_1: float, temp_2_c: float, log_2: float) -> tuple[float, float]:
    inverse_1 = 1.0 / (temp_1_c + KELVIN_AT_0_C)
    inverse_2 = 1.0 / (temp_2_c + KELVIN_AT_0_C)
    b = (log_2 - log_1) / (inverse_2 - inverse_1)
    return log_1 - b * inverse_1, b
