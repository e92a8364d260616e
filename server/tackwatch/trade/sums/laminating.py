"""The sum that holds the air of a place against the limits for laminating.

Source
------
See `trade.laminating_air`.
"""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from tackwatch.trade.laminating_air import SOURCE, LaminatingAir, laminating_air
from tackwatch.trade.sums.described import described
from tackwatch.trade.sums.readiness import ReadingTakes
from tackwatch.trade.sums.sum import Sum, note
from tackwatch.trade.types import Reading

WORDS: Final = {
    "ok": "Every limit was kept over the day before",
    "coldest_c": "Coldest of the day before",
    "swing_k": "Between the coldest and the warmest of that day",
    "rh_pct": "Relative humidity measured last",
    "covered": "Whether readings cover the day, no gap above 6 h",
    "reasons": "Codes: laminating_too_cold, laminating_swing, laminating_too_humid, "
    "laminating_too_dry, laminating_not_covered, laminating_no_humidity",
}


@dataclass(frozen=True, slots=True)
class LaminatingTakes:
    """What was measured over the day before."""

    now_at: datetime = field(metadata=note("When it is asked"))
    readings: tuple[ReadingTakes, ...] = field(
        default=(), metadata=note("What was measured, in any order", at_most=1000)
    )
    spray: bool = field(default=False, metadata=note("Whether the resin is sprayed"))


def _laminating(given: LaminatingTakes) -> LaminatingAir:
    readings = [Reading(one.at, one.air_c, one.surface_c, one.rh_pct) for one in given.readings]
    return laminating_air(readings, given.now_at, given.spray)


SUMS: Final = (
    Sum(
        "laminating_air",
        "laminate",
        "Whether a place was warm, steady and dry enough for laminating.",
        LaminatingTakes,
        described(LaminatingAir, WORDS),
        _laminating,
        f"{SOURCE}: 18 degC for 24 h, 3 K, 80 %, 40 % when spraying; gaps: our own caution",
    ),
)
