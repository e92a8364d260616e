"""The sums about pots: how large, when the next one, and whether it will run away.

Source
------
See `trade.pots`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade import pots
from tackwatch.trade.sums.mix import (
    BANDS,
    INDUCTION,
    MASS,
    MINUTES,
    MIX_TEMP,
    POT_MASS,
    TEMP,
    BandTakes,
    induction_of,
)
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity

POT_LIFE: Final = {**MINUTES, "about": "Pot life from stirring, at this temperature", "above": 0.0}
MIXING: Final = {**MINUTES, "about": "Weighing and stirring"}
RESERVE: Final = quantity("%", "Part of the time that is kept in reserve", least=0.0, most=90.0)
PACE: Final = quantity("kg/min", "What one person lays in a minute", above=0.0, most=100.0)
PLAN: Final = "Arithmetic; pot life with induction: NAVFAC MO-124; reserve: common practice"
SHEET_C: Final = {**TEMP, "about": "Temperature for which the sheet gives its pot life"}
SHEET_KG: Final = {**POT_MASS, "about": "Mass for which the sheet gives its pot life"}


@dataclass(frozen=True, slots=True)
class LargestPotTakes:
    """How long a pot lasts and how fast one person lays it."""

    pot_life_minutes: float = field(metadata=POT_LIFE)
    pace_kg_per_minute: float = field(metadata=PACE)
    mixing_minutes: float = field(default=5.0, metadata=MIXING)
    induction_minutes: float = field(default=0.0, metadata=INDUCTION)
    induction_by_temp: tuple[BandTakes, ...] = field(default=(), metadata=BANDS)
    temp_c: float | None = field(default=None, metadata=MIX_TEMP)
    reserve_pct: float = field(default=25.0, metadata=RESERVE)
    pot_reference_kg: float | None = field(default=None, metadata=SHEET_KG)


@dataclass(frozen=True, slots=True)
class LargestPotGives:
    """The largest pot that is used up in time."""

    largest_kg: float = field(metadata=measured("kg", "Largest pot"))
    working_minutes: float = field(metadata=measured("min", "Time to lay it"))
    reasons: tuple[str, ...] = field(
        metadata=note("Codes: held_to_reference (the sheet's own mass), sheet_mass_unknown")
    )


@dataclass(frozen=True, slots=True)
class NextPotTakes:
    """The whole job, the size of a pot, and how fast one person lays it."""

    total_kg: float = field(metadata={**MASS, "about": "Mass for the whole job"})
    pot_kg: float = field(metadata=POT_MASS)
    pace_kg_per_minute: float = field(metadata=PACE)
    pot_life_minutes: float = field(metadata=POT_LIFE)
    mixing_minutes: float = field(default=5.0, metadata=MIXING)
    induction_minutes: float = field(default=0.0, metadata=INDUCTION)
    induction_by_temp: tuple[BandTakes, ...] = field(default=(), metadata=BANDS)
    temp_c: float | None = field(default=None, metadata=MIX_TEMP)


@dataclass(frozen=True, slots=True)
class PlannedPot:
    """One pot of the plan; minutes from when the first one is begun."""

    pot_kg: float = field(metadata=measured("kg", "Mass of the pot"))
    stir_at_minutes: float = field(metadata=measured("min", "Begin to weigh and stir"))
    use_from_minutes: float = field(metadata=measured("min", "May be laid from then"))
    empty_at_minutes: float = field(metadata=measured("min", "Is empty"))
    dead_at_minutes: float = field(metadata=measured("min", "Its pot life is over"))
    in_time: bool = field(metadata=note("Is empty before its pot life is over"))


@dataclass(frozen=True, slots=True)
class NextPotGives:
    """When to mix each pot so that work does not stop."""

    next_after_minutes: float | None = field(
        metadata=measured("min", "From the first pot to the second; null when one is enough")
    )
    pots: tuple[PlannedPot, ...] = field(metadata=note("The pots, one after the other"))
    pot_count: int = field(metadata=measured("1", "Pots in all"))
    done_at_minutes: float = field(metadata=measured("min", "The last pot is empty"))
    reasons: tuple[str, ...] = field(metadata=note("Codes: pot_too_large"))


@dataclass(frozen=True, slots=True)
class PotHeatTakes:
    """A pot, its temperature, and the sheet's own pot."""

    pot_kg: float = field(metadata=POT_MASS)
    temp_c: float = field(metadata=TEMP)
    pot_reference_kg: float = field(default=0.1, metadata=SHEET_KG)
    reference_temp_c: float = field(default=20.0, metadata=SHEET_C)
    pot_life_minutes: float | None = field(
        default=None, metadata={**POT_LIFE, "about": "Pot life on the sheet"}
    )


@dataclass(frozen=True, slots=True)
class PotHeatGives:
    """How near the pot is to running away."""

    heat_ratio: float = field(metadata=measured("1", "1 is the sheet's own pot"))
    level: pots.HeatOfPot = field(metadata=note("ok, warm (spread it out soon) or runaway"))
    safe_kg: float = field(metadata=measured("kg", "Largest pot that stays ok at this temperature"))
    pot_life_at_most_minutes: float | None = field(
        metadata=measured("min", "Pot life at this temperature; a larger mass shortens it further")
    )
    basis: Basis = field(metadata=note("What the answer rests on"))
    reasons: tuple[str, ...] = field(metadata=note("Codes: big_pot, hot_pot"))


def largest_pot(given: LargestPotTakes) -> LargestPotGives:
    """Give the largest pot that one person uses up in time."""
    induction = induction_of(given.induction_minutes, given.induction_by_temp, given.temp_c)
    times = pots.PotTimes(
        given.pot_life_minutes, given.mixing_minutes, induction, given.reserve_pct
    )
    working = pots.working_minutes(times)
    by_pace = working * given.pace_kg_per_minute
    reference = given.pot_reference_kg
    if reference is None:
        return LargestPotGives(by_pace, working, ("sheet_mass_unknown",))
    held = by_pace > reference
    return LargestPotGives(min(by_pace, reference), working, ("held_to_reference",) * held)


def next_pot(given: NextPotTakes) -> NextPotGives:
    """Plan the pots of a job."""
    induction = induction_of(given.induction_minutes, given.induction_by_temp, given.temp_c)
    times = pots.PotTimes(given.pot_life_minutes, given.mixing_minutes, induction, 0.0)
    plan = pots.pot_plan(given.total_kg, given.pot_kg, given.pace_kg_per_minute, times)
    names = PlannedPot.__dataclass_fields__
    return NextPotGives(
        next_after_minutes=plan[1].stir_at_minutes if len(plan) > 1 else None,
        pots=tuple(PlannedPot(**{name: getattr(pot, name) for name in names}) for pot in plan),
        pot_count=len(plan),
        done_at_minutes=plan[-1].empty_at_minutes,
        reasons=() if all(pot.in_time for pot in plan) else ("pot_too_large",),
    )


def pot_heat(given: PotHeatTakes) -> PotHeatGives:
    """Warn of a pot whose mass and temperature will run away."""
    faster = pots.speed_up(given.temp_c, given.reference_temp_c)
    ratio = pots.heat_ratio(given.pot_kg, given.pot_reference_kg, faster)
    reasons = {
        "big_pot": given.pot_kg > given.pot_reference_kg,
        "hot_pot": given.temp_c > given.reference_temp_c,
    }
    life = given.pot_life_minutes
    return PotHeatGives(
        heat_ratio=ratio,
        level=pots.heat_of_pot(ratio),
        safe_kg=given.pot_reference_kg / faster,
        pot_life_at_most_minutes=None if life is None else life / faster,
        basis="common_practice",
        reasons=tuple(reason for reason, is_so in reasons.items() if is_so),
    )


SUMS: Final = (
    Sum(
        "largest_pot",
        "mix",
        "How much one person can mix at once and still use up in time.",
        LargestPotTakes,
        LargestPotGives,
        largest_pot,
        PLAN,
        ("pot_heat",),
    ),
    Sum(
        "next_pot",
        "mix",
        "When to mix the next pot so that work does not stop.",
        NextPotTakes,
        NextPotGives,
        next_pot,
        PLAN,
        ("pot_heat",),
    ),
    Sum(
        "pot_heat",
        "mix",
        "Whether a pot will heat itself until it runs away.",
        PotHeatTakes,
        PotHeatGives,
        pot_heat,
        "Doubling per 10 degC: UFGS-09971, 3.7.1.3; thresholds: common practice, no source",
        ("pot_heat",),
    ),
)
