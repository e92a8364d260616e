"""What is told of the air before resin is laid: advice with its source, never a refusal.

Rules
-----
* Asked only where glass or a fillet is laid, and only of what the product's own sheet leaves out:
  temperature and its swing where it gives no least temperature, humidity where it gives no most.
* What was not measured is `not_checked`.

Source
------
`laminating_air`.
"""

from typing import Final

from tackwatch.trade.laminating_air import (
    BEFORE_H,
    MIN_C,
    RH_MAX_PCT,
    RH_MIN_SPRAY_PCT,
    SOURCE,
    SWING_MAX_K,
    LaminatingAir,
)
from tackwatch.trade.readiness_air import Outcome, Rule, RuleOutcome
from tackwatch.trade.types import Limits

LAMINATES: Final = frozenset({"laminate", "fillet"})


def laminating_rules(air: LaminatingAir | None, limits: Limits) -> list[RuleOutcome]:
    """Give the rules of the air for laminating of which the sheet says nothing."""
    if air is None:
        return []
    own_temp, own_rh = limits.temp_min_c is not None, limits.rh_max_pct is not None
    return [
        *([] if own_temp else [_temperature(air), _swing(air)]),
        *([] if own_rh else [_humidity(air)]),
    ]


def _temperature(air: LaminatingAir) -> RuleOutcome:
    cold = "laminating_too_cold" in air.reasons
    code = "laminating_too_cold" if cold else "laminating_warm"
    params = {"min_c": MIN_C, "hours": BEFORE_H}
    return _told("laminating_temperature", code, cold, air, "lowest_c", air.coldest_c, params)


def _swing(air: LaminatingAir) -> RuleOutcome:
    wide = "laminating_swing" in air.reasons
    code = "laminating_swing" if wide else "laminating_steady"
    params = {"max_k": SWING_MAX_K, "hours": BEFORE_H}
    return _told("laminating_swing", code, wide, air, "swing_k", air.swing_k, params)


def _humidity(air: LaminatingAir) -> RuleOutcome:
    if air.rh_pct is None:
        return _rule("laminating_humidity", "not_checked", "laminating_no_humidity", {})
    damp, dry = "laminating_too_humid" in air.reasons, "laminating_too_dry" in air.reasons
    code = "laminating_humidity_kept"
    if damp or dry:
        code = "laminating_too_humid" if damp else "laminating_too_dry"
    params = {"rh_pct": air.rh_pct, "max_pct": RH_MAX_PCT, "min_pct": RH_MIN_SPRAY_PCT}
    return _rule("laminating_humidity", "advice" if damp or dry else "ok", code, params)


def _told(
    rule: Rule,
    code: str,
    fails: bool,
    air: LaminatingAir,
    name: str,
    value: float | None,
    params: dict[str, float],
) -> RuleOutcome:
    if value is None or not (fails or air.covered):
        return _rule(rule, "not_checked", "laminating_not_covered", {"hours": BEFORE_H})
    return _rule(rule, "advice" if fails else "ok", code, {name: value, **params})


def _rule(rule: Rule, outcome: Outcome, code: str, params: dict[str, float]) -> RuleOutcome:
    return RuleOutcome(rule, outcome, code, SOURCE, dict(params))
