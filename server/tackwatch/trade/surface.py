"""Whether a surface is far enough above the dew point, now and when the paint is touch-dry.

Theory
------
Water settles on a surface that is not warmer than the dew point. The air over a surface varies, and
meters err: hence a margin. Evening cools the surface while the water stays in the air, so that the
margin at touch-dry, not the one at noon, decides. Without a forecast of the humidity the water of
the air is taken to stay as it is: the dew point is held.

Rules
-----
* Two margins are in use and both are told: 3 K, and 5 degF (2.78 K) "and rising". Which one counts
  is the data sheet's or the specification's matter.
* A billionth of a kelvin below the margin still counts as the margin, as for `trade.arrhenius`.
* Most paints want 7.2 to 32.2 degC, and none if 4.4 degC is passed before they are dry.

Source
------
3 K: widely attributed to ISO 8502-4, from memory. 5 degF, 45 to 90 degF and 40 degF:
MIL-HDBK-1110 (1995), adopted as UFC 3-190-06 (2004), 9.6.6 and 7.4.1.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from tackwatch.trade.air import dew_point_c
from tackwatch.trade.units import c_of_f, k_of_f_span

RULE_3K: Final = 3.0
RULE_5F_K: Final = k_of_f_span(5.0)
EDGE_K: Final = 1e-9
PAINT_MIN_C: Final = c_of_f(45.0)
PAINT_MAX_C: Final = c_of_f(90.0)
NEVER_BELOW_C: Final = c_of_f(40.0)


@dataclass(frozen=True, slots=True)
class Margin:
    """How far a surface lies above the dew point."""

    dew_point_c: float
    margin_k: float


def margin(surface_c: float, air_c: float, rh_pct: float) -> Margin:
    """Give the dew point and the margin of the surface above it."""
    dew_c = dew_point_c(air_c, rh_pct)
    return Margin(dew_c, surface_c - dew_c)


def margin_held(surface_c: float, dew_c: float) -> Margin:
    """Give the margin of a surface when the dew point is known."""
    return Margin(dew_c, surface_c - dew_c)


def keeps(margin_k: float, rule_k: float) -> bool:
    """Say whether a margin keeps a rule."""
    return margin_k >= rule_k - EDGE_K


def why_not(margin_k: float) -> tuple[str, ...]:
    """Name what the margin fails: wet, or one of the two rules."""
    reasons = ["surface_wet"] if margin_k <= 0.0 else []
    if not keeps(margin_k, RULE_5F_K):
        reasons.append("below_5_f")
    if not keeps(margin_k, RULE_3K):
        reasons.append("below_3_k")
    return tuple(reasons)


def temperature_reasons(now_c: Sequence[float], then_c: Sequence[float]) -> tuple[str, ...]:
    """Name what the temperatures themselves fail, now (air, surface) and at touch-dry."""
    reasons = []
    if min(now_c) < PAINT_MIN_C - EDGE_K:
        reasons.append("colder_than_most_paints_allow")
    if max(now_c) > PAINT_MAX_C + EDGE_K:
        reasons.append("hotter_than_most_paints_allow")
    if min((*now_c, *then_c)) < NEVER_BELOW_C - EDGE_K:
        reasons.append("too_cold_before_dry")
    return tuple(reasons)
