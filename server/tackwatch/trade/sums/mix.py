"""The sums about mixing: what goes into a pot, and how hot the pot may get.

Source
------
See `trade.mix`, `trade.induction` and `trade.pots`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade import mix
from tackwatch.trade.errors import TradeError
from tackwatch.trade.induction import check_bands, induction_minutes
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity
from tackwatch.trade.types import CatalystRange, InductionBand, Mix, Ratio

PARTS: Final = quantity("1", "Parts", above=0.0, most=1000.0)
MASS: Final = quantity("kg", "Mass", above=0.0, most=10_000.0)
VOLUME: Final = quantity("l", "Volume", above=0.0, most=10_000.0)
POT_MASS: Final = quantity("kg", "Mass of one pot", above=0.0, most=200.0)
PERCENT: Final = quantity("%", "Percent of the resin's mass", least=0.0, most=10.0)
TEMP: Final = quantity("degC", "Temperature of the resin", least=-20.0, most=80.0)
MINUTES: Final = quantity("min", "Minutes", least=0.0, most=1440.0)
INDUCTION: Final = {**MINUTES, "about": "Induction time in the tin after stirring"}
BANDS: Final = note("Induction time by temperature, rising; instead of the one time", at_most=20)
MIX_TEMP: Final = {**TEMP, "about": "Temperature of the mix, for the induction time"}
BAND_TEMP: Final = quantity("degC", "Temperature", least=-50.0, most=150.0)
RATIO: Final = "Definition of the ratio; ratio and induction time are the data sheet's"


@dataclass(frozen=True, slots=True)
class BandTakes:
    """A band of temperature, and how long a mix stands in it before it is used."""

    from_c: float = field(metadata={**BAND_TEMP, "about": "Coldest of the band"})
    minutes: float = field(metadata=INDUCTION)
    to_c: float | None = field(
        default=None, metadata={**BAND_TEMP, "about": "Warmest of the band; null: and warmer"}
    )


@dataclass(frozen=True, slots=True)
class ByMassTakes:
    """The ratio by mass, and one amount: of the base, of the hardener, or of both together."""

    ratio_base: float = field(metadata={**PARTS, "about": "Parts of base by mass"})
    ratio_hardener: float = field(metadata={**PARTS, "about": "Parts of hardener by mass"})
    base_kg: float | None = field(default=None, metadata={**MASS, "about": "Mass of base"})
    hardener_kg: float | None = field(default=None, metadata={**MASS, "about": "Mass of hardener"})
    total_kg: float | None = field(default=None, metadata={**MASS, "about": "Mass of the pot"})
    induction_minutes: float = field(default=0.0, metadata=INDUCTION)
    induction_by_temp: tuple[BandTakes, ...] = field(default=(), metadata=BANDS)
    temp_c: float | None = field(default=None, metadata=MIX_TEMP)


@dataclass(frozen=True, slots=True)
class ByMassGives:
    """What to weigh, and from when it may be used."""

    base_kg: float = field(metadata=measured("kg", "Base to weigh"))
    hardener_kg: float = field(metadata=measured("kg", "Hardener to weigh"))
    total_kg: float = field(metadata=measured("kg", "Mass of the pot"))
    use_after_minutes: float = field(metadata=measured("min", "After stirring, usable from then"))


@dataclass(frozen=True, slots=True)
class ByVolumeTakes:
    """The ratio by volume, and one amount: of the base, of the hardener, or of both together."""

    ratio_base: float = field(metadata={**PARTS, "about": "Parts of base by volume"})
    ratio_hardener: float = field(metadata={**PARTS, "about": "Parts of hardener by volume"})
    base_l: float | None = field(default=None, metadata={**VOLUME, "about": "Volume of base"})
    hardener_l: float | None = field(
        default=None, metadata={**VOLUME, "about": "Volume of hardener"}
    )
    total_l: float | None = field(default=None, metadata={**VOLUME, "about": "Both together"})
    induction_minutes: float = field(default=0.0, metadata=INDUCTION)
    induction_by_temp: tuple[BandTakes, ...] = field(default=(), metadata=BANDS)
    temp_c: float | None = field(default=None, metadata=MIX_TEMP)


@dataclass(frozen=True, slots=True)
class ByVolumeGives:
    """What to measure, and from when it may be used."""

    base_l: float = field(metadata=measured("l", "Base to measure"))
    hardener_l: float = field(metadata=measured("l", "Hardener to measure"))
    total_l: float = field(metadata=measured("l", "Both together"))
    use_after_minutes: float = field(metadata=measured("min", "After stirring, usable from then"))


@dataclass(frozen=True, slots=True)
class CatalystTakes:
    """Resin, its temperature, and the ranges of its data sheet."""

    resin_kg: float = field(metadata={**MASS, "about": "Resin without catalyst"})
    temp_c: float = field(metadata=TEMP)
    catalyst_pct: float = field(default=1.5, metadata=PERCENT)
    min_pct: float = field(default=1.0, metadata={**PERCENT, "about": "Least that cures"})
    max_pct: float = field(default=2.5, metadata={**PERCENT, "about": "Most that is allowed"})
    temp_min_c: float = field(default=15.0, metadata={**TEMP, "about": "Coldest allowed"})
    temp_max_c: float = field(default=30.0, metadata={**TEMP, "about": "Hottest allowed"})
    catalyst_density_kg_l: float | None = field(
        default=None, metadata=quantity("kg/l", "Density of the catalyst", least=0.5, most=2.0)
    )


@dataclass(frozen=True, slots=True)
class CatalystGives:
    """Catalyst to add."""

    catalyst_kg: float = field(metadata=measured("kg", "Catalyst to weigh"))
    catalyst_l: float | None = field(metadata=measured("l", "Catalyst to measure"))
    basis: Basis = field(metadata=note("What the ranges rest on unless they are the sheet's"))
    reasons: tuple[str, ...] = field(metadata=note("Codes: outside_preferred (1.25 to 2 %)"))


def mix_by_mass(given: ByMassTakes) -> ByMassGives:
    """Split a pot by mass."""
    total = _total(given.ratio_base, given.ratio_hardener, _amounts(given, "kg"), "kg")
    ratio = Mix(by_mass=Ratio(given.ratio_base, given.ratio_hardener))
    parts = mix.parts_by_mass(ratio, total)
    use_after = induction_of(given.induction_minutes, given.induction_by_temp, given.temp_c)
    return ByMassGives(parts.base_kg, parts.hardener_kg, total, use_after)


def mix_by_volume(given: ByVolumeTakes) -> ByVolumeGives:
    """Split a pot by volume."""
    total = _total(given.ratio_base, given.ratio_hardener, _amounts(given, "l"), "l")
    ratio = Mix(by_volume=Ratio(given.ratio_base, given.ratio_hardener))
    parts = mix.parts_by_volume(ratio, total)
    use_after = induction_of(given.induction_minutes, given.induction_by_temp, given.temp_c)
    return ByVolumeGives(parts.base_l, parts.hardener_l, total, use_after)


def catalyst(given: CatalystTakes) -> CatalystGives:
    """Give the catalyst for a mass of resin, inside the sheet's ranges only."""
    mix.check_temperature(given.temp_c, given.temp_min_c, given.temp_max_c)
    sheet = CatalystRange(given.min_pct, given.catalyst_pct, given.max_pct)
    mass = mix.catalyst_kg(Mix(catalyst=sheet), given.resin_kg)
    density = given.catalyst_density_kg_l
    low, high = mix.CATALYST_PREFERRED_PCT
    reasons = () if low <= given.catalyst_pct <= high else ("outside_preferred",)
    volume = None if density is None else mass / density
    return CatalystGives(mass, volume, "common_practice", reasons)


def induction_of(minutes: float, by_temp: tuple[BandTakes, ...], temp_c: float | None) -> float:
    """Give the induction time: that of the band of the temperature, else the one that is given."""
    bands = tuple(InductionBand(one.from_c, one.to_c, one.minutes) for one in by_temp)
    check_bands(bands, "induction_by_temp")
    return induction_minutes(Mix(induction_minutes=minutes, induction_by_temp=bands), temp_c)


def _amounts(given: ByMassTakes | ByVolumeTakes, unit: str) -> tuple[float | None, ...]:
    return tuple(getattr(given, f"{name}_{unit}") for name in ("base", "hardener", "total"))


def _total(base: float, hardener: float, amounts: tuple[float | None, ...], unit: str) -> float:
    """Give the whole pot from the one amount that is given."""
    known = [one for one in amounts if one is not None]
    if len(known) != 1:
        raise TradeError(f"total_{unit}", "give one amount: base, hardener or total")
    share = (base, hardener, base + hardener)[amounts.index(known[0])]
    return known[0] * (base + hardener) / share


SUMS: Final = (
    Sum(
        "mix_by_mass",
        "mix",
        "What to weigh of base and hardener.",
        ByMassTakes,
        ByMassGives,
        mix_by_mass,
        RATIO,
        ("skin_sensitising", "pot_heat"),
    ),
    Sum(
        "mix_by_volume",
        "mix",
        "What to measure of base and hardener.",
        ByVolumeTakes,
        ByVolumeGives,
        mix_by_volume,
        RATIO,
        ("skin_sensitising", "pot_heat"),
    ),
    Sum(
        "catalyst",
        "mix",
        "How much catalyst polyester or vinylester resin gets.",
        CatalystTakes,
        CatalystGives,
        catalyst,
        "1 to 2.5 %, preferred 1.25 to 2 %: composites trade association magazine, February 2017; "
        "15 to 30 degC: common practice, no source",
        ("peroxide", "styrene"),
    ),
)
