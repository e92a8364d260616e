"""The air of a place where resin and glass are laid: warm, steady, and neither damp nor parched.

Theory
------
Resin that is laid cold does not cure through, resin that is laid on a swing of temperature meets dew and
draws air, damp glass does not wet out. So the place is to be warm and steady for a day before, not only
at the moment.

Rules
-----
* At least 18 degC for 24 h before and now; at most 3 K between the coldest and the warmest of that day;
  humidity at most 80 %, and at least 40 % where resin is sprayed.
* The air counts, the surface where no air was measured. Readings after the instant do not count.
* The day is covered when no gap between readings, from its beginning to now, is longer than `GAP_S`: our
  own caution. A day that is not covered can still be seen to be too cold.
* Advice: the product's own sheet counts before it.

Source
------
Iranian Classification Society, Rules for FRP Ships, laminating, 102.2-4.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from tackwatch.trade.types import Reading

SOURCE: Final = "Iranian Classification Society, FRP rules, 102.2-4"
MIN_C: Final = 18.0
BEFORE_H: Final = 24.0
SWING_MAX_K: Final = 3.0
RH_MAX_PCT: Final = 80.0
RH_MIN_SPRAY_PCT: Final = 40.0
GAP_S: Final = 6.0 * 3600.0
EDGE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class LaminatingAir:
    """The day before as it was measured, and which limits it passes; None is not measured."""

    ok: bool
    coldest_c: float | None
    swing_k: float | None
    rh_pct: float | None
    covered: bool
    reasons: tuple[str, ...]


def laminating_air(
    readings: Iterable[Reading], now_at: datetime, spray: bool = False
) -> LaminatingAir:
    """Hold the day before against the limits for laminating.

    Parameters
    ----------
    readings : iterable of Reading
        What was measured, in any order.
    now_at : datetime
        When it is asked.
    spray : bool
        Whether the resin is sprayed.

    Source
    ------
    See the head of the module.
    """
    first_at = now_at - timedelta(hours=BEFORE_H)
    day = sorted((one for one in readings if first_at <= one.at <= now_at), key=lambda one: one.at)
    measured = [(one.at, temp_c) for one in day if (temp_c := _temp_c(one)) is not None]
    temps_c = [temp_c for _, temp_c in measured]
    edges = [first_at, *(at for at, _ in measured), now_at]
    covered = all((after - at).total_seconds() <= GAP_S for at, after in pairwise(edges))
    coldest_c = min(temps_c, default=None)
    swing_k = max(temps_c) - min(temps_c) if temps_c else None
    rh_pct = _latest_rh_pct(day)
    fails = {
        "laminating_too_cold": coldest_c is not None and coldest_c < MIN_C - EDGE,
        "laminating_swing": swing_k is not None and swing_k > SWING_MAX_K + EDGE,
        "laminating_too_humid": rh_pct is not None and rh_pct > RH_MAX_PCT + EDGE,
        "laminating_too_dry": spray and rh_pct is not None and rh_pct < RH_MIN_SPRAY_PCT - EDGE,
        "laminating_not_covered": not covered,
        "laminating_no_humidity": rh_pct is None,
    }
    reasons = tuple(reason for reason, failed in fails.items() if failed)
    return LaminatingAir(not reasons, coldest_c, swing_k, rh_pct, covered, reasons)


def _temp_c(reading: Reading) -> float | None:
    return reading.surface_c if reading.air_c is None else reading.air_c


def _latest_rh_pct(day: list[Reading]) -> float | None:
    """Give the newest humidity; of two at one instant the damper one."""
    known = [(one.at, one.rh_pct) for one in day if one.rh_pct is not None]
    return max(known)[1] if known else None
