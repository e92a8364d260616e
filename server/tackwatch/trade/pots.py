"""How large a pot, when to mix the next one, and when a pot will run away.

Theory
------
One person spreads so many kilograms a minute. A pot must be empty before its pot life is over, less
the time to stir it, the induction time in the tin, and a reserve. So that work does not stop, the
next pot is stirred when the one in use still lasts as long as stirring and induction take.
Mixed resin makes its own heat: twice the mass loses it about as badly as 10 K more speed it up, so
that mass over the sheet's mass times 2^((T - T_sheet) / 10) tells how near a pot is to boiling over.

Rules
-----
* Pot life counts from stirring, induction included.
* A pot above the sheet's own mass is not offered: for that mass no pot life was measured.
* Above 1 the ratio says `warm`, above 2 `runaway`. The thresholds are common practice, no source.

Source
------
Doubling per 10 degC: UFGS-09971, 3.7.1.3. Pot life that includes the induction time: NAVFAC MO-124.
The rest is arithmetic and common practice, no source.
"""

from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

from tackwatch.trade.errors import OutOfRangeError, TradeError

HeatOfPot = Literal["ok", "warm", "runaway"]

DOUBLING_K: Final = 10.0
WARM_ABOVE: Final = 1.0
RUNAWAY_ABOVE: Final = 2.0
EDGE: Final = 1e-9
POTS_MOST: Final = 200


@dataclass(frozen=True, slots=True)
class PotTimes:
    """What a crew knows about its pots: all times in minutes."""

    pot_life_minutes: float
    mixing_minutes: float
    induction_minutes: float
    reserve_pct: float


@dataclass(frozen=True, slots=True)
class PotTime:
    """One pot of a day's plan; minutes from the first stirring."""

    pot_kg: float
    stir_at_minutes: float
    use_from_minutes: float
    empty_at_minutes: float
    dead_at_minutes: float
    in_time: bool


def working_minutes(times: PotTimes) -> float:
    """Give how long a pot can be worked with.

    Raises
    ------
    TradeError
        When nothing is left after stirring and induction.
    """
    left = times.pot_life_minutes - times.mixing_minutes - times.induction_minutes
    if left <= 0.0:
        raise TradeError("pot_life_minutes", "is over before the pot can be used")
    return left * (1.0 - times.reserve_pct / 100.0)


def pot_plan(
    total_kg: float, pot_kg: float, pace_kg_per_minute: float, times: PotTimes
) -> tuple[PotTime, ...]:
    """Plan the pots for a job so that one follows the other without a stop.

    Raises
    ------
    OutOfRangeError
        When the pots would be too many to be meant.
    """
    count = max(1, ceil(total_kg / pot_kg - EDGE))
    if count > POTS_MOST:
        raise OutOfRangeError("pot_kg", f"would make more than {POTS_MOST} pots")
    working_minutes(times)
    before = times.mixing_minutes + times.induction_minutes
    plan: list[PotTime] = []
    use_from = before
    for i in range(count):
        mass = min(pot_kg, total_kg - i * pot_kg)
        empty_at = use_from + mass / pace_kg_per_minute
        dead_at = use_from - before + times.pot_life_minutes
        in_time = empty_at <= dead_at * (1.0 + EDGE)
        plan.append(PotTime(mass, use_from - before, use_from, empty_at, dead_at, in_time))
        use_from = empty_at
    return tuple(plan)


def heat_ratio(pot_kg: float, pot_reference_kg: float, faster: float) -> float:
    """Give how near a pot is to running away: 1 is the sheet's own pot at the sheet's temperature."""
    return pot_kg / pot_reference_kg * faster


def speed_up(temp_c: float, reference_c: float) -> float:
    """Give how many times faster a pot goes than at the sheet's temperature."""
    return float(2.0 ** ((temp_c - reference_c) / DOUBLING_K))


def heat_of_pot(ratio: float) -> HeatOfPot:
    """Name how a pot of this ratio must be treated."""
    if ratio > RUNAWAY_ABOVE * (1.0 + EDGE):
        return "runaway"
    return "warm" if ratio > WARM_ABOVE * (1.0 + EDGE) else "ok"
