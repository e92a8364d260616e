"""Humidity from a wet and a dry bulb, and the wet bulb from humidity.

Theory
------
Air that blows past a wet wick cools it until the heat it gives pays for the water that evaporates.
With w the kilograms of water in a kilogram of dry air, t the dry and t' the wet bulb in degC:

    w = ((2501 - 2.326 t') w_s(t') - 1.006 (t - t')) / (2501 + 1.86 t - 4.186 t')
    w_s = 0.621945 e_s / (p - e_s)

The humidity follows at once; the wet bulb is sought by halving, since more water means a warmer wick.

Rules
-----
* The pressure of the air matters (a yard on a mountain lake) and is asked for; 1013.25 hPa if not.
* A wet bulb below 0 degC is refused as a reading: there may be ice on the wick. Worked out, it is
  the bulb of water that has not frozen, and is marked `beyond`.

Source
------
ASHRAE Handbook, Fundamentals, chapter on psychrometrics (energy balance of the thermodynamic wet
bulb); vapour pressure as in `trade.air` (WMO-No. 8).
"""

from math import exp
from typing import Final

from tackwatch.trade.air import MAGNUS_A, MAGNUS_B_C, dew_point_c
from tackwatch.trade.errors import OutOfRangeError

MAGNUS_E_HPA: Final = 6.112
STANDARD_HPA: Final = 1013.25
WATER_TO_AIR: Final = 0.621945
HALVINGS: Final = 60


def vapour_pressure_hpa(temp_c: float) -> float:
    """Give the pressure of saturated vapour over water."""
    return MAGNUS_E_HPA * exp(MAGNUS_A * temp_c / (MAGNUS_B_C + temp_c))


def rh_of_dew_point_pct(air_c: float, dew_c: float) -> float:
    """Give the humidity of air whose dew point is known.

    Raises
    ------
    OutOfRangeError
        When the dew point lies above the temperature of the air.
    """
    if dew_c > air_c:
        raise OutOfRangeError("dew_point_c", "must not lie above the temperature of the air")
    return 100.0 * vapour_pressure_hpa(dew_c) / vapour_pressure_hpa(air_c)


def rh_of_wet_bulb_pct(dry_bulb_c: float, wet_bulb_c: float, pressure_hpa: float) -> float:
    """Give the humidity from the two bulbs of a psychrometer.

    Raises
    ------
    OutOfRangeError
        When the wet bulb is the warmer one, or colder than it gets in air without any water.
    """
    if wet_bulb_c > dry_bulb_c:
        raise OutOfRangeError("wet_bulb_c", "must not lie above the dry bulb")
    rh_pct = _rh_pct(dry_bulb_c, wet_bulb_c, pressure_hpa)
    if rh_pct <= 0.0:
        raise OutOfRangeError("wet_bulb_c", "no air is dry enough: read both bulbs again")
    return min(rh_pct, 100.0)


def wet_bulb_c(air_c: float, rh_pct: float, pressure_hpa: float) -> float:
    """Give the wet bulb of air, for water even below 0 degC."""
    low, high = dew_point_c(air_c, rh_pct), air_c
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if _rh_pct(air_c, middle, pressure_hpa) < rh_pct:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _rh_pct(dry_c: float, wet_c: float, pressure_hpa: float) -> float:
    saturated = vapour_pressure_hpa(wet_c)
    most = WATER_TO_AIR * saturated / (pressure_hpa - saturated)
    water = ((2501.0 - 2.326 * wet_c) * most - 1.006 * (dry_c - wet_c)) / (
        2501.0 + 1.86 * dry_c - 4.186 * wet_c
    )
    vapour_hpa = water * pressure_hpa / (WATER_TO_AIR + water)
    return 100.0 * vapour_hpa / vapour_pressure_hpa(dry_c)
