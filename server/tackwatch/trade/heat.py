"""Heat index: what the air does to people who work in it.

Theory
------
Sweat cools less in damp air. Steadman's model says which temperature of ordinary air would strain a
resting person in the shade as much; Rothfusz fitted it with a polynomial in degF and percent, which
the US weather service corrects at its dry and its damp end. Below 80 degF a simpler line is used.

Rules
-----
* The number is for the shade and a light wind: full sun may add up to 15 degF (8.3 K), and both are
  told. Respirators, suits and closed spaces are harder still: nothing here allows for them.
* Past the published chart (137 degF) the polynomial runs away; the answer is marked `beyond`.

Source
------
US National Weather Service, Weather Prediction Center, "The heat index equation" (Rothfusz, SR
90-23, 1990, with its adjustments), and the classes of its heat index chart.
"""

from math import sqrt
from typing import Final, Literal

HeatLevel = Literal["none", "caution", "extreme_caution", "danger", "extreme_danger"]

SIMPLE_BELOW_F: Final = 80.0
CHART_END_F: Final = 137.0
SUN_F: Final = 15.0
LEVELS: Final[tuple[tuple[float, HeatLevel], ...]] = (
    (125.0, "extreme_danger"),
    (103.0, "danger"),
    (90.0, "extreme_caution"),
    (80.0, "caution"),
)


def heat_index_f(air_f: float, rh_pct: float) -> float:
    """Give the heat index in degF, from degF.

    Source
    ------
    See the head of the module.
    """
    simple_f = 0.5 * (air_f + 61.0 + (air_f - 68.0) * 1.2 + rh_pct * 0.094)
    average_f = (simple_f + air_f) / 2.0
    if average_f < SIMPLE_BELOW_F:
        return average_f
    return _rothfusz_f(air_f, rh_pct) + _adjustment_f(air_f, rh_pct)


def heat_level(index_f: float) -> HeatLevel:
    """Name the class of a heat index on the published chart."""
    return next((level for from_f, level in LEVELS if index_f >= from_f), "none")


def _rothfusz_f(t: float, r: float) -> float:
    return (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 0.00683783 * t * t
        - 0.05481717 * r * r
        + 0.00122874 * t * t * r
        + 0.00085282 * t * r * r
        - 0.00000199 * t * t * r * r
    )


def _adjustment_f(t: float, r: float) -> float:
    if r < 13.0 and 80.0 <= t <= 112.0:
        return -(13.0 - r) / 4.0 * sqrt((17.0 - abs(t - 95.0)) / 17.0)
    if r > 85.0 and 80.0 <= t <= 87.0:
        return (r - 85.0) / 10.0 * (87.0 - t) / 5.0
    return 0.0
