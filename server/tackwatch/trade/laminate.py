"""Glass and resin of a laminate: from the cloth's mass to thickness, mass and what to mix.

Theory
------
A ply holds w kilograms of glass on a square metre. With a glass content psi (glass to whole, by
mass) it holds w (1 - psi) / psi of resin, and without voids its thickness is the sum of both
volumes: w / rho_f + w (1 - psi) / (psi rho_r). With the densities of E-glass and polyester (2.56
and 1.2 kg/dm3) this is the usual w / 3.072 * (2.56 / psi - 1.36).

Rules
-----
* Densities are arguments: the short form holds only for the two above.
* A ply without a glass content of its own takes the typical one of its kind, and says `typical`.
  The panel in hand, weighed or burnt out, always counts before it.
* The first mat against gelcoat is light, and the whole cures warm for two days: both are advice, told as
  a note and with the answer.
* Lost resin is a share of what is *mixed* (pot, roller, drips), so that one divides by what is
  left over, and beside it a fixed mass for every tool that is wetted.

Source
------
ISO 12215-5, quoted from memory: formula and the glass contents of hand lay-up. Shares that are
lost: common practice, no source. First mat at most 450 g/m2, 48 h at 18 degC: rules of a classification
society for GRP craft, production procedures 3.2.3 and 3.2.7.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Final, Literal

from tackwatch.trade.errors import OutOfRangeError, TradeError

PlyKind = Literal["mat", "cloth", "woven", "stitched", "stitched_mat"]
ContentBasis = Literal["given", "typical"]

GLASS_KG_L: Final = 2.56
RESIN_KG_L: Final = 1.2
WASTE_PCT: Final = 15.0
WASTE_MAX_PCT: Final = 80.0
FIBRE_MAX_KG_M2: Final = 20.0
AREA_MAX_M2: Final = 100_000.0
PLIES_MAX_N: Final = 200
MASS_MAX_KG: Final = 1000.0
FIRST_MAT_MAX_KG_M2: Final = 0.45
CURE_H: Final = 48.0
CURE_MIN_C: Final = 18.0

TYPICAL_GLASS_PCT: Final[Mapping[PlyKind, float]] = {
    "mat": 30.0,
    "cloth": 45.0,
    "woven": 48.0,
    "stitched": 50.0,
    "stitched_mat": 42.0,
}


@dataclass(frozen=True, slots=True)
class Ply:
    """One layer of cloth: its glass on a square metre, and its glass content where it is known."""

    kind: PlyKind
    fibre_kg_m2: float
    glass_pct: float | None = None


@dataclass(frozen=True, slots=True)
class PlyLaid:
    """What a ply comes to when it is wetted out."""

    kind: PlyKind
    thickness_mm: float
    fibre_kg_m2: float
    resin_kg_m2: float
    mass_kg_m2: float
    glass_pct: float
    fibre_volume_pct: float
    density_kg_l: float
    basis: ContentBasis


@dataclass(frozen=True, slots=True)
class Waste:
    """Resin that is mixed and never reaches the work."""

    pct: float = WASTE_PCT
    tools_n: int = 0
    tool_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Laminate:
    """A schedule of plies on an area: each ply, the whole, what to mix for it, how long it cures."""

    plies: tuple[PlyLaid, ...]
    thickness_mm: float
    fibre_kg_m2: float
    resin_kg_m2: float
    mass_kg_m2: float
    glass_pct: float
    fibre_kg: float
    resin_laid_kg: float
    resin_mixed_kg: float
    mass_kg: float
    typical: bool
    cure_h: float
    cure_min_c: float
    notes: tuple[str, ...]


def ply_laid(ply: Ply, fibre_kg_l: float = GLASS_KG_L, resin_kg_l: float = RESIN_KG_L) -> PlyLaid:
    """Give thickness, resin and mass of one wetted ply.

    Parameters
    ----------
    ply : Ply
        The cloth.
    fibre_kg_l, resin_kg_l : float
        Densities of the fibre and of the cured resin.

    Raises
    ------
    TradeError
        When the kind is unknown, or a value lies outside its range.

    Source
    ------
    See the head of the module.
    """
    if ply.kind not in TYPICAL_GLASS_PCT:
        raise TradeError("kind", f"must be one of {', '.join(TYPICAL_GLASS_PCT)}")
    fibre = within(ply.fibre_kg_m2, "fibre_kg_m2", 0.001, FIBRE_MAX_KG_M2)
    given = TYPICAL_GLASS_PCT[ply.kind] if ply.glass_pct is None else ply.glass_pct
    content = within(given, "glass_pct", 5.0, 90.0) / 100.0
    rho_f = within(fibre_kg_l, "fibre_kg_l", 0.5, 20.0)
    rho_r = within(resin_kg_l, "resin_kg_l", 0.5, 5.0)
    resin = fibre * (1.0 - content) / content
    thickness_mm = fibre / rho_f + resin / rho_r
    return PlyLaid(
        kind=ply.kind,
        thickness_mm=thickness_mm,
        fibre_kg_m2=fibre,
        resin_kg_m2=resin,
        mass_kg_m2=fibre + resin,
        glass_pct=given,
        fibre_volume_pct=100.0 * fibre / rho_f / thickness_mm,
        density_kg_l=(fibre + resin) / thickness_mm,
        basis="typical" if ply.glass_pct is None else "given",
    )


def laminate(
    plies: Sequence[Ply],
    area_m2: float,
    waste: Waste | None = None,
    fibre_kg_l: float = GLASS_KG_L,
    resin_kg_l: float = RESIN_KG_L,
    on_gelcoat: bool = False,
) -> Laminate:
    """Add up a schedule of plies on an area.

    Parameters
    ----------
    plies : sequence of Ply
        From the first laid to the last, 1 to 200.
    area_m2 : float
        The area that each ply covers.
    waste : Waste, optional
        What is lost in pot, brush and roller.
    fibre_kg_l, resin_kg_l : float
        Densities of the fibre and of the cured resin.
    on_gelcoat : bool
        Whether the first ply lies against gelcoat.

    Raises
    ------
    TradeError
        Naming the field, that of a ply as `plies[2].glass_pct`.

    Source
    ------
    See the head of the module.
    """
    if not 1 <= len(plies) <= PLIES_MAX_N:
        raise TradeError("plies", f"a laminate has 1 to {PLIES_MAX_N} plies")
    area = within(area_m2, "area_m2", 0.0, AREA_MAX_M2)
    laid = tuple(_nth(i, ply, fibre_kg_l, resin_kg_l) for i, ply in enumerate(plies))
    fibre = sum(ply.fibre_kg_m2 for ply in laid)
    resin = sum(ply.resin_kg_m2 for ply in laid)
    return Laminate(
        plies=laid,
        thickness_mm=sum(ply.thickness_mm for ply in laid),
        fibre_kg_m2=fibre,
        resin_kg_m2=resin,
        mass_kg_m2=fibre + resin,
        glass_pct=100.0 * fibre / (fibre + resin),
        fibre_kg=fibre * area,
        resin_laid_kg=resin * area,
        resin_mixed_kg=mixed_kg(resin * area, waste),
        mass_kg=(fibre + resin) * area,
        typical=any(ply.basis == "typical" for ply in laid),
        cure_h=CURE_H,
        cure_min_c=CURE_MIN_C,
        notes=("first_mat_too_heavy",) if on_gelcoat and _heavy(laid[0]) else (),
    )


def mixed_kg(laid_kg: float, waste: Waste | None = None) -> float:
    """Give what must be mixed so that a mass of resin reaches the work.

    Source
    ------
    Definition; the shares are common practice, no source.
    """
    lost = waste or Waste()
    share = within(lost.pct, "waste.pct", 0.0, WASTE_MAX_PCT) / 100.0
    tools_n = within(lost.tools_n, "waste.tools_n", 0.0, 1000.0)
    if tools_n != int(tools_n):
        raise OutOfRangeError("waste.tools_n", "must be a whole number")
    tool_kg = within(lost.tool_kg, "waste.tool_kg", 0.0, MASS_MAX_KG)
    return laid_kg / (1.0 - share) + tools_n * tool_kg


def within(value: float, field: str, low: float, high: float = inf) -> float:
    """Give the value when it is a number in the range.

    Raises
    ------
    OutOfRangeError
        When it is not.
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise OutOfRangeError(field, f"must be a number in {low:g} to {high:g}")
    return value


def _heavy(first: PlyLaid) -> bool:
    return first.kind == "mat" and first.fibre_kg_m2 > FIRST_MAT_MAX_KG_M2 * (1.0 + 1e-9)


def _nth(i: int, ply: Ply, fibre_kg_l: float, resin_kg_l: float) -> PlyLaid:
    try:
        return ply_laid(ply, fibre_kg_l, resin_kg_l)
    except TradeError as error:
        if error.field in ("fibre_kg_l", "resin_kg_l"):
            raise
        raise type(error)(f"plies[{i}].{error.field}", error.message) from None
