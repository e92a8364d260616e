"""Dew point and the margin of the surface above it.

Theory
------
Vapour pressure over water follows Magnus: e_s(t) = E * exp(A t / (B + t)). The dew point is the
temperature at which e_s equals the vapour pressure rh * e_s(t), which can be solved in closed form.

Rules
-----
* Valid over water from -45 to 60 degC, and for humidity above 0 up to 100 %. Outside, an error.
* The margin is surface minus dew point: paint laid on a surface too near the dew point blushes or
  lets go. The usual demand of 3 K is an argument, never built in: sheets and specifications differ.

Source
------
WMO-No. 8, Guide to Instruments and Methods of Observation, annex on psychrometric formulae
(constants after Sonntag 1990): A = 17.62, B = 243.12 degC.
"""

from math import log
from typing import Final

from tackwatch.trade.errors import OutOfRangeError

MAGNUS_A: Final = 17.62
MAGNUS_B_C: Final = 243.12
AIR_MIN_C: Final = -45.0
AIR_MAX_C: Final = 60.0
RH_MAX_PCT: Final = 100.0


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Give the dew point of air.

    Parameters
    ----------
    air_c : float
        Air temperature, -45 to 60 degC.
    rh_pct : float
        Relative humidity over water, above 0 and at most 100 %.

    Raises
    ------
    OutOfRangeError
        When a value lies outside the range of the formula.

    Source
    ------
    WMO-No. 8 (see the head of the module).
    """
    if not AIR_MIN_C <= air_c <= AIR_MAX_C:
        raise OutOfRangeError("air_c", f"must lie in {AIR_MIN_C:g} to {AIR_MAX_C:g} degC")
    if not 0.0 < rh_pct <= RH_MAX_PCT:
        raise OutOfRangeError("rh_pct", "must lie above 0 and at most at 100 %")
    gamma = log(rh_pct / 100.0) + MAGNUS_A * air_c / (MAGNUS_B_C + air_c)
    return MAGNUS_B_C * gamma / (MAGNUS_A - gamma)


def dew_margin_c(surface_c: float, air_c: float, rh_pct: float) -> float:
    """Give how far the surface lies above the dew point of the air (negative: it is wet)."""
    return surface_c - dew_point_c(air_c, rh_pct)
