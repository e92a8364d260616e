"""What to weigh or measure for a pot.

Theory
------
A ratio gives parts of base to parts of hardener; a total is split in those parts. Catalyst goes by
percent of the *resin's* mass. A ratio by volume is not a ratio by mass: the one that the sheet
gives is used as it stands, and the two are never turned into one another.

Rules
-----
* Never guess a ratio that the profile does not carry: an error says so.
* Catalyst outside the sheet's range is refused: too little never cures, too much overheats.

Source
------
Definition of the parts; the range of the catalyst comes from the profile. Preferred percentage of
peroxide: composites trade association magazine, best practices for proper cure, February 2017.
"""

from dataclasses import dataclass
from typing import Final

from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.types import Mix, Ratio

CATALYST_PREFERRED_PCT: Final = (1.25, 2.0)


@dataclass(frozen=True, slots=True)
class PartsByMass:
    """Masses to weigh into the pot."""

    base_kg: float
    hardener_kg: float


@dataclass(frozen=True, slots=True)
class PartsByVolume:
    """Volumes to measure into the pot."""

    base_l: float
    hardener_l: float


def hardener_kg(mix: Mix, base_kg: float) -> float:
    """Give the hardener's mass for a mass of base."""
    ratio = _given(mix.by_mass, "mix.by_mass")
    return _amount(base_kg, "base_kg") * ratio.hardener / ratio.base


def hardener_l(mix: Mix, base_l: float) -> float:
    """Give the hardener's volume for a volume of base."""
    ratio = _given(mix.by_volume, "mix.by_volume")
    return _amount(base_l, "base_l") * ratio.hardener / ratio.base


def parts_by_mass(mix: Mix, total_kg: float) -> PartsByMass:
    """Split a pot of `total_kg` into base and hardener."""
    ratio = _given(mix.by_mass, "mix.by_mass")
    base = _amount(total_kg, "total_kg") * ratio.base / (ratio.base + ratio.hardener)
    return PartsByMass(base_kg=base, hardener_kg=total_kg - base)


def parts_by_volume(mix: Mix, total_l: float) -> PartsByVolume:
    """Split a pot of `total_l` into base and hardener."""
    ratio = _given(mix.by_volume, "mix.by_volume")
    base = _amount(total_l, "total_l") * ratio.base / (ratio.base + ratio.hardener)
    return PartsByVolume(base_l=base, hardener_l=total_l - base)


def catalyst_kg(mix: Mix, resin_kg: float, catalyst_pct: float | None = None) -> float:
    """Give the catalyst's mass for a mass of resin.

    Parameters
    ----------
    mix : Mix
        How the product is mixed; needs a catalyst range.
    resin_kg : float
        Mass of resin without catalyst.
    catalyst_pct : float, optional
        Percent of the resin's mass; the usual percentage when left out.

    Raises
    ------
    TradeError
        When the profile has no catalyst, or the percentage lies outside its range.
    """
    if mix.catalyst is None:
        raise TradeError("mix.catalyst", "this product is not catalysed by percent")
    percent = mix.catalyst.usual_pct if catalyst_pct is None else catalyst_pct
    if not mix.catalyst.min_pct <= percent <= mix.catalyst.max_pct:
        low, high = mix.catalyst.min_pct, mix.catalyst.max_pct
        raise OutOfRangeError("catalyst_pct", f"must lie in {low:g} to {high:g} %")
    return _amount(resin_kg, "resin_kg") * percent / 100.0


def check_temperature(temp_c: float, min_c: float, max_c: float) -> None:
    """Refuse resin that is too cold to cure or too hot to be safe.

    Raises
    ------
    OutOfRangeError
        When the temperature lies outside what the sheet allows.
    """
    if not min_c <= temp_c <= max_c:
        raise OutOfRangeError("temp_c", f"must lie in {min_c:g} to {max_c:g} degC to be catalysed")


def _given(ratio: Ratio | None, field: str) -> Ratio:
    if ratio is None:
        raise TradeError(field, "the profile gives no such ratio: read the tin")
    return ratio


def _amount(value: float, field: str) -> float:
    if not 0.0 <= value < float("inf"):
        raise OutOfRangeError(field, "must be a number that is not negative")
    return value
