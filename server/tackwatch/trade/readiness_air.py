"""The rules of the air for a coat: reading, dew, temperature and humidity, now and until it is dry.

Rules
-----
See `readiness`, which asks them; they stand apart because they are asked again for each instant ahead.

Source
------
Dew: 3 K, widely attributed to ISO 8502-4, from memory, or the product's own margin. Temperature of
most paints and 4.4 degC before dry: MIL-HDBK-1110 7.4.1. Otherwise the product's data sheet.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from math import exp, inf
from typing import Final, Literal

from tackwatch.trade.air import MAGNUS_A, MAGNUS_B_C, dew_point_c
from tackwatch.trade.dose import DoseLine
from tackwatch.trade.errors import OutOfRangeError
from tackwatch.trade.forecast import lowest_c, temp_at
from tackwatch.trade.instants import instant_of, seconds_of
from tackwatch.trade.surface import EDGE_K, NEVER_BELOW_C, PAINT_MAX_C, PAINT_MIN_C, RULE_3K
from tackwatch.trade.types import Limits, Reading, Track
from tackwatch.trade.warnings import iso_of

Outcome = Literal["ok", "wait", "no", "unknown", "not_checked", "advice"]
Rule = Literal[
    "held",
    "steps_before",
    "reading",
    "dew_now",
    "dew_drying",
    "temperature_now",
    "temperature_drying",
    "humidity",
    "window",
    "compatibility",
    "laminating_temperature",
    "laminating_swing",
    "laminating_humidity",
]

AIR_RULES: Final[frozenset[Rule]] = frozenset(
    {"reading", "dew_now", "dew_drying", "temperature_now", "temperature_drying", "humidity"}
)
CAREFUL: Final[Mapping[str, float]] = {"air_c": 1.0, "surface_c": -1.0, "rh_pct": 1.0}
FRESH_S: Final = 2.0 * 3600.0
SHEET: Final = "the product's data sheet"
ISO: Final = "ISO 8502-4, from memory"
HANDBOOK: Final = "MIL-HDBK-1110 7.4.1"
METER: Final = "our own caution"


@dataclass(frozen=True, slots=True)
class AirFacts:
    """What was measured last; `measured_at` is that of the oldest of the three."""

    air_c: float | None = None
    surface_c: float | None = None
    rh_pct: float | None = None
    measured_at: datetime | None = None


def latest_air(readings: Iterable[Reading]) -> AirFacts:
    """Give the newest air, surface and humidity; the instant is that of the oldest of the three.

    Two values of one instant count as the more careful one: the warmer and damper air, the colder
    surface.
    """
    newest: dict[str, tuple[datetime, float]] = {}
    for reading in readings:
        for name, careful in CAREFUL.items():
            value: float | None = getattr(reading, name)
            if value is None:
                continue
            held = newest.get(name)
            if held is None or (reading.at, careful * value) > (held[0], careful * held[1]):
                newest[name] = (reading.at, value)
    instants = [at for at, _ in newest.values()]
    return AirFacts(
        **{name: value for name, (_, value) in newest.items()},
        measured_at=min(instants) if len(instants) == len(CAREFUL) else None,
    )


@dataclass(frozen=True, slots=True)
class RuleOutcome:
    """A rule, what came of it, why, what a sentence about it needs, and where it comes from."""

    rule: Rule
    outcome: Outcome
    code: str
    source: str
    params: Mapping[str, str | float] = field(default_factory=dict)


class AirRules:
    """Asks the rules of the air now, and whether they are expected to hold at an instant ahead."""

    def __init__(
        self,
        air: AirFacts,
        limits: Limits,
        track: Track,
        line: DoseLine | None,
        coat_s: float,
        now_s: float,
    ) -> None:
        self._air, self._limits, self._track, self._line = air, limits, track, line
        self._coat_s, self._now_s = coat_s, now_s
        own_k = limits.dew_margin_min_c
        self._margin_k = RULE_3K if own_k is None else own_k
        self._margin_source = ISO if own_k is None else SHEET
        low_c, high_c = limits.temp_min_c, limits.temp_max_c
        self._low_c = PAINT_MIN_C if low_c is None else low_c
        self._high_c = PAINT_MAX_C if high_c is None else high_c
        self._temp_source = HANDBOOK if low_c is None or high_c is None else SHEET
        self._dry_min_c = min(NEVER_BELOW_C, self._low_c)
        self._dew_c = _dew_c(air)

    def rules_now(self) -> list[RuleOutcome]:
        """Give the outcome of each rule of the air."""
        reading = self._reading()
        if reading.outcome != "ok":
            return [reading]
        return [reading, self._dew_now(), *self._drying(), self._temperature(), *self._humidity()]

    def holds(self, at_s: float) -> bool:
        """Say whether all of them are expected to hold at an instant ahead."""
        temp_c = temp_at(self._track, at_s)
        if not self._low_c - EDGE_K <= temp_c <= self._high_c + EDGE_K:
            return False
        if self._dew_c is None or temp_c - self._dew_c < self._margin_k - EDGE_K:
            return False
        limit_pct = self._limits.rh_max_pct
        if limit_pct is not None and _rh_pct(temp_c, self._dew_c) > limit_pct + EDGE_K:
            return False
        dry_s = self._dry_s(at_s)
        if dry_s is None:
            return True
        if dry_s == inf:
            return False
        cold_c = lowest_c(self._track, at_s, dry_s)
        margin_holds = cold_c - self._dew_c >= self._margin_k - EDGE_K
        return margin_holds and cold_c >= self._dry_min_c - EDGE_K

    def _reading(self) -> RuleOutcome:
        air = self._air
        if air.measured_at is None or self._dew_c is None or air.surface_c is None:
            return RuleOutcome("reading", "unknown", "no_reading", METER)
        params: dict[str, str | float] = {"measured_at": iso_of(air.measured_at)}
        if self._now_s - seconds_of(air.measured_at, "measured_at") > FRESH_S:
            return RuleOutcome("reading", "unknown", "stale_reading", METER, params)
        return RuleOutcome("reading", "ok", "fresh_reading", METER, params)

    def _dew_now(self) -> RuleOutcome:
        dew_c, surface_c = self._dew_c or 0.0, self._air.surface_c or 0.0
        margin_k = surface_c - dew_c
        good = margin_k >= self._margin_k - EDGE_K
        params: dict[str, str | float] = {
            "surface_c": surface_c,
            "dew_c": dew_c,
            "margin_k": margin_k,
            "limit_k": self._margin_k,
        }
        code = "dew_margin_kept" if good else "too_near_dew_point"
        return RuleOutcome("dew_now", "ok" if good else "wait", code, self._margin_source, params)

    def _drying(self) -> list[RuleOutcome]:
        dry_s, dew_c = self._dry_s(self._now_s), self._dew_c or 0.0
        if dry_s is None:
            return [RuleOutcome("dew_drying", "not_checked", "touch_dry_not_given", SHEET)]
        if dry_s == inf:
            return [RuleOutcome("temperature_drying", "wait", "never_touch_dry", SHEET)]
        cold_c = lowest_c(self._track, self._now_s, dry_s)
        params: dict[str, str | float] = {
            "touch_dry_at": iso_of(instant_of(dry_s)),
            "lowest_c": cold_c,
        }
        margin_k = cold_c - dew_c
        near = margin_k < self._margin_k - EDGE_K
        dew = {**params, "dew_c": dew_c, "margin_k": margin_k, "limit_k": self._margin_k}
        cold = cold_c < self._dry_min_c - EDGE_K
        return [
            RuleOutcome(
                "dew_drying",
                "wait" if near else "ok",
                "dew_before_dry" if near else "dew_margin_kept",
                self._margin_source,
                dew,
            ),
            RuleOutcome(
                "temperature_drying",
                "wait" if cold else "ok",
                "too_cold_before_dry" if cold else "warm_enough",
                HANDBOOK,
                {**params, "limit_c": self._dry_min_c},
            ),
        ]

    def _temperature(self) -> RuleOutcome:
        both = [one for one in (self._air.air_c, self._air.surface_c) if one is not None]
        cold_c, hot_c = min(both), max(both)
        cold, hot = cold_c < self._low_c - EDGE_K, hot_c > self._high_c + EDGE_K
        params: dict[str, str | float] = {
            "lowest_c": cold_c,
            "highest_c": hot_c,
            "min_c": self._low_c,
            "max_c": self._high_c,
        }
        code = "too_cold" if cold else "too_hot" if hot else "temperature_in_range"
        outcome: Outcome = "wait" if cold or hot else "ok"
        return RuleOutcome("temperature_now", outcome, code, self._temp_source, params)

    def _humidity(self) -> list[RuleOutcome]:
        limit_pct, rh_pct = self._limits.rh_max_pct, self._air.rh_pct or 0.0
        if limit_pct is None:
            return [RuleOutcome("humidity", "not_checked", "humidity_not_given", SHEET)]
        damp = rh_pct > limit_pct + EDGE_K
        code = "too_humid" if damp else "humidity_in_range"
        params: dict[str, str | float] = {"rh_pct": rh_pct, "max_pct": limit_pct}
        return [RuleOutcome("humidity", "wait" if damp else "ok", code, SHEET, params)]

    def _dry_s(self, at_s: float) -> float | None:
        """Give when a coat begun then is touch-dry; None: not given, infinity: never."""
        if self._line is None:
            return None
        reached = self._line.reached(at_s + self._coat_s)
        return inf if reached is None else reached.at_s


def _dew_c(air: AirFacts) -> float | None:
    """Give the dew point; None when it was not measured, or lies where no formula holds."""
    if air.air_c is None or air.rh_pct is None:
        return None
    try:
        return dew_point_c(air.air_c, air.rh_pct)
    except OutOfRangeError:
        return None


def _rh_pct(temp_c: float, dew_c: float) -> float:
    """Give the humidity of air of a temperature with a dew point (Magnus)."""
    at_dew = MAGNUS_A * dew_c / (MAGNUS_B_C + dew_c)
    return 100.0 * exp(at_dew - MAGNUS_A * temp_c / (MAGNUS_B_C + temp_c))
