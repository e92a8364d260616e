"""The sums about the air: dew point, wet bulb, humidity, and the margin of the surface.

Source
------
See `trade.air`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade.air import AIR_MAX_C, AIR_MIN_C, RH_MAX_PCT, dew_point_c
from tackwatch.trade.sums.sum import Metadata, Sum, measured, quantity

AIR: Final = quantity("degC", "Temperature of the air", least=AIR_MIN_C, most=AIR_MAX_C)
HUMIDITY: Final = quantity("%", "Relative humidity of the air", above=0.0, most=RH_MAX_PCT)
DEW: Final[Metadata] = measured("degC", "Dew point of the air")
MAGNUS: Final = "Magnus formula with the constants of WMO-No. 8 (after Sonntag 1990)"


@dataclass(frozen=True, slots=True)
class DewPointTakes:
    """Air as a meter shows it."""

    air_c: float = field(metadata=AIR)
    rh_pct: float = field(metadata=HUMIDITY)


@dataclass(frozen=True, slots=True)
class DewPointGives:
    """Where that air begins to wet a surface."""

    dew_point_c: float = field(metadata=DEW)


def dew_point(given: DewPointTakes) -> DewPointGives:
    """Give the dew point of air."""
    return DewPointGives(dew_point_c(given.air_c, given.rh_pct))


SUMS: Final = (
    Sum(
        "dew_point",
        "air",
        "At which temperature a surface gets wet from this air.",
        DewPointTakes,
        DewPointGives,
        dew_point,
        MAGNUS,
    ),
)
