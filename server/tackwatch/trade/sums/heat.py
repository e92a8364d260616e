"""The sum about the crew in the heat.

Source
------
See `trade.heat`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade import heat
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity
from tackwatch.trade.units import c_of_f, f_of_c

CODES: Final = "Codes: beyond_chart, full_sun_is_harder"


@dataclass(frozen=True, slots=True)
class HeatIndexTakes:
    """Air in the shade where people work."""

    air_c: float = field(
        metadata=quantity("degC", "Temperature of the air in the shade", least=0.0, most=50.0)
    )
    rh_pct: float = field(metadata=quantity("%", "Relative humidity", least=0.0, most=100.0))


@dataclass(frozen=True, slots=True)
class HeatIndexGives:
    """How hot it feels, in the shade and in full sun, and how careful that asks to be."""

    heat_index_c: float = field(metadata=measured("degC", "Heat index in the shade"))
    heat_index_f: float = field(metadata=measured("degF", "Heat index in the shade, as published"))
    level: heat.HeatLevel = field(metadata=note("Class on the published chart, in the shade"))
    level_in_sun: heat.HeatLevel = field(metadata=note("Class when full sun adds its most"))
    basis: Basis = field(metadata=note("What the answer rests on"))
    reasons: tuple[str, ...] = field(metadata=note(CODES))


def heat_index(given: HeatIndexTakes) -> HeatIndexGives:
    """Give the heat index and its class."""
    index_f = heat.heat_index_f(f_of_c(given.air_c), given.rh_pct)
    level, in_sun = heat.heat_level(index_f), heat.heat_level(index_f + heat.SUN_F)
    beyond = index_f > heat.CHART_END_F
    reasons = (["beyond_chart"] if beyond else []) + (
        ["full_sun_is_harder"] if in_sun != level else []
    )
    basis: Basis = "beyond" if beyond else "formula"
    return HeatIndexGives(c_of_f(index_f), index_f, level, in_sun, basis, tuple(reasons))


SUMS: Final = (
    Sum(
        "heat_index",
        "heat",
        "How hard this air is on people who work in it.",
        HeatIndexTakes,
        HeatIndexGives,
        heat_index,
        "US National Weather Service, heat index equation (Rothfusz 1990) with its adjustments",
        ("heat_stress",),
    ),
)
