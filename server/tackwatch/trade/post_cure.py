"""A post-cure as a timetable: warm at a rate, hold, warm on, and cool again.

Theory
------
Resin that cured in the cold is only as good in the heat as it was warm when it cured. Warming it
slowly and holding it warm lets the cure go on; warming it fast softens it before it has set.

Rules
-----
* Every change of temperature, up or down, runs at the rate of the sheet, down to where it began.
* The clock of a soak starts when the laminate, not the air in the tent, is that warm.

Source
------
Arithmetic; that heat is brought on slowly is common practice, no source. The sheet governs.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from tackwatch.trade.errors import TradeError
from tackwatch.trade.instants import instant_of, seconds_of
from tackwatch.trade.laminate import within
from tackwatch.trade.types import PostCure

LegKind = Literal["warm", "hold", "cool"]
SOAKS_MAX_N: Final = 20


@dataclass(frozen=True, slots=True)
class Leg:
    """A part of the timetable."""

    kind: LegKind
    from_at: datetime
    to_at: datetime
    from_c: float
    to_c: float


@dataclass(frozen=True, slots=True)
class PostCurePlan:
    """The timetable of a post-cure."""

    legs: tuple[Leg, ...]
    held_minutes: float
    hottest_c: float
    ends_at: datetime


def post_cure_plan(post_cure: PostCure, start_at: datetime, start_c: float) -> PostCurePlan:
    """Lay out a post-cure from an instant and a temperature on.

    Raises
    ------
    TradeError
        When a rate, a time or a temperature lies outside its range.

    Source
    ------
    See the head of the module.
    """
    within(post_cure.ramp_k_h, "ramp_k_h", 0.1, 600.0)
    within(start_c, "start_c", -50.0, 150.0)
    if not 1 <= len(post_cure.soaks) <= SOAKS_MAX_N:
        raise TradeError("soaks", f"a post-cure has 1 to {SOAKS_MAX_N} soaks")
    for i, soak in enumerate(post_cure.soaks):
        within(soak.temp_c, f"soaks[{i}].temp_c", -50.0, 250.0)
        within(soak.minutes, f"soaks[{i}].minutes", 0.001, 525_600.0)
    legs = tuple(_legs(post_cure, seconds_of(start_at, "start_at"), start_c))
    return PostCurePlan(
        legs=legs,
        held_minutes=sum(soak.minutes for soak in post_cure.soaks),
        hottest_c=max(soak.temp_c for soak in post_cure.soaks),
        ends_at=legs[-1].to_at,
    )


def _legs(post_cure: PostCure, at_s: float, temp_c: float) -> Iterator[Leg]:
    for target_c, hold_s in [
        *((s.temp_c, 60.0 * s.minutes) for s in post_cure.soaks),
        (temp_c, 0.0),
    ]:
        change_s = abs(target_c - temp_c) / post_cure.ramp_k_h * 3600.0
        if change_s > 0.0:
            kind: LegKind = "warm" if target_c > temp_c else "cool"
            yield Leg(kind, instant_of(at_s), instant_of(at_s + change_s), temp_c, target_c)
        at_s += change_s
        if hold_s > 0.0:
            yield Leg("hold", instant_of(at_s), instant_of(at_s + hold_s), target_c, target_c)
        at_s, temp_c = at_s + hold_s, target_c
