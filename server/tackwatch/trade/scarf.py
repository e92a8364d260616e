"""Taper, patch and overlap: how wide every ply of a repair is.

Theory
------
A laminate of thickness t that is ground away at a ratio N to 1 opens by N t on each side. A ply
that fills the taper from depth to depth reaches as far as the taper does at its upper face: at a
height h above the bottom, a hole of diameter d (or a gap of width d) is d + 2 N h wide. With plies
that together are as thick as the laminate, the last one is as wide as the ground ring.

Rules
-----
* Plies are counted from the bottom, so that the smallest comes first. Where the sheet of the resin
  or a rule asks for the largest first, the widths are the same and the order is turned round.
* A ply above the laminate's own face does not follow the taper: it laps over the ply below it by
  the overlap at every edge.
* Plies that together are thinner than the laminate are named (`thinner_than_laminate`), a ratio
  below 12 to 1 is named (`ratio_below_rule`), and neither is refused: a person decides.
* Strips that cover a width lap by the overlap; seams of neighbouring plies lie a stagger apart. The
  seams of ply k are moved by k staggers: its first strip is cut narrower.

Source
------
Geometry. Ratio 12 for a structural repair of a single skin: Soundings magazine, Repairing
Composites. Overlap at least 50 mm and centre lines of overlaps at least 100 mm apart: Iranian
Classification Society, rules for FRP ships, hand lay-up 301. Stagger of 50 mm for each ply at an
edge: Rules for Special Service Craft, part 8, chapter 2, 4.2.5.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, pi
from typing import Final

from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.laminate import (
    GLASS_KG_L,
    PLIES_MAX_N,
    RESIN_KG_L,
    Ply,
    PlyLaid,
    Waste,
    laminate,
    mixed_kg,
    within,
)

RATIO_RULE: Final = 12.0
OVERLAP_RULE_MM: Final = 50.0
CENTRES_RULE_MM: Final = 100.0
LENGTH_MAX_MM: Final = 1_000_000.0
STRIPS_MAX_N: Final = 2000
SAME_MM: Final = 1e-9
MM2_PER_M2: Final = 1e6


@dataclass(frozen=True, slots=True)
class Taper:
    """A ground taper from one side: how far it reaches, and how much is ground."""

    run_mm: float
    outer_mm: float
    ring_mm2: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PatchPly:
    """One ply of a patch: how wide, how much glass and resin."""

    width_mm: float
    area_m2: float
    fibre_kg: float
    resin_kg: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class Patch:
    """A repair: the taper, each ply from the bottom, and what to cut and mix."""

    taper: Taper
    plies: tuple[PatchPly, ...]
    thickness_mm: float
    fibre_kg: float
    resin_laid_kg: float
    resin_mixed_kg: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Strips:
    """How strips of a roll cover a width, ply by ply; seams are the left edges of the overlaps."""

    strips_n: tuple[int, ...]
    seams_mm: tuple[tuple[float, ...], ...]
    cloth_m2: float
    extra_pct: float
    notes: tuple[str, ...]


def taper(hole_mm: float, thickness_mm: float, ratio: float = RATIO_RULE) -> Taper:
    """Give the ground ring round a round hole (a hole of 0: a dent that is ground out).

    Source
    ------
    See the head of the module.
    """
    hole = within(hole_mm, "hole_mm", 0.0, LENGTH_MAX_MM)
    thickness = within(thickness_mm, "thickness_mm", 0.01, 1000.0)
    run = within(ratio, "ratio", 1.0, 200.0) * thickness
    outer = hole + 2.0 * run
    notes = ("ratio_below_rule",) if ratio < RATIO_RULE else ()
    return Taper(run, outer, pi / 4.0 * (outer * outer - hole * hole), notes)


def patch(
    plies: Sequence[Ply],
    hole_mm: float,
    thickness_mm: float,
    ratio: float = RATIO_RULE,
    overlap_mm: float = OVERLAP_RULE_MM,
    length_mm: float | None = None,
    waste: Waste | None = None,
    fibre_kg_l: float = GLASS_KG_L,
    resin_kg_l: float = RESIN_KG_L,
) -> Patch:
    """Give every ply of a repair round a hole, or along a straight joint.

    Parameters
    ----------
    plies : sequence of Ply
        From the bottom to the top.
    hole_mm : float
        Diameter of the hole; of a straight joint the width of the gap.
    thickness_mm : float
        Thickness of the laminate that is ground.
    ratio : float
        Length of the taper to its depth.
    overlap_mm : float
        How far a ply above the laminate's own face laps over the one below it.
    length_mm : float, optional
        Length of a straight joint; round when it is left out.
    waste : Waste, optional
        What is lost in pot, brush and roller.
    fibre_kg_l, resin_kg_l : float
        Densities of the fibre and of the cured resin.

    Source
    ------
    See the head of the module.
    """
    ground = taper(hole_mm, thickness_mm, ratio)
    overlap = within(overlap_mm, "overlap_mm", 0.0, 10_000.0)
    length = None if length_mm is None else within(length_mm, "length_mm", 1.0, LENGTH_MAX_MM)
    laid = laminate(plies, 0.0, None, fibre_kg_l, resin_kg_l).plies
    cut: list[PatchPly] = []
    height, width = 0.0, hole_mm
    for ply in laid:
        height += ply.thickness_mm
        inside = height <= thickness_mm + SAME_MM
        full = width >= ground.outer_mm - SAME_MM
        width = (
            hole_mm + 2.0 * ratio * height
            if inside
            else width + 2.0 * overlap
            if full
            else ground.outer_mm
        )
        cut.append(_cut(ply, width, length))
    notes = [*ground.notes]
    if height < thickness_mm - SAME_MM:
        notes.append("thinner_than_laminate")
    if overlap < OVERLAP_RULE_MM and height > thickness_mm + SAME_MM:
        notes.append("overlap_below_rule")
    resin_kg = sum(ply.resin_kg for ply in cut)
    return Patch(
        taper=ground,
        plies=tuple(cut),
        thickness_mm=height,
        fibre_kg=sum(ply.fibre_kg for ply in cut),
        resin_laid_kg=resin_kg,
        resin_mixed_kg=mixed_kg(resin_kg, waste),
        notes=tuple(notes),
    )


def strips(
    width_mm: float,
    length_mm: float,
    roll_mm: float,
    plies_n: int = 1,
    overlap_mm: float = OVERLAP_RULE_MM,
    stagger_mm: float = CENTRES_RULE_MM,
) -> Strips:
    """Say how strips of a roll cover a width, and where the seams of each ply lie.

    Parameters
    ----------
    width_mm, length_mm : float
        What is to be covered; strips run along the length.
    roll_mm : float
        The roll's width.
    plies_n : int
        How many plies of that cloth.
    overlap_mm : float
        How far neighbouring strips lap.
    stagger_mm : float
        How far the seams of a ply lie from those of the ply below.

    Source
    ------
    See the head of the module.
    """
    width = within(width_mm, "width_mm", 1.0, LENGTH_MAX_MM)
    length = within(length_mm, "length_mm", 1.0, LENGTH_MAX_MM)
    roll = within(roll_mm, "roll_mm", 20.0, 10_000.0)
    n = within(plies_n, "plies_n", 1, PLIES_MAX_N)
    if n != int(n):
        raise OutOfRangeError("plies_n", "must be a whole number")
    overlap = within(overlap_mm, "overlap_mm", 0.0, 10_000.0)
    if overlap > roll / 2.0:
        raise TradeError("overlap_mm", "must be at most half of the roll's width")
    stagger = within(stagger_mm, "stagger_mm", 0.0, 10_000.0)
    if ceil(width / (roll - overlap)) * n > STRIPS_MAX_N:
        raise TradeError("roll_mm", "more strips than anybody lays")
    seams = tuple(_seams(width, roll, overlap, stagger * k) for k in range(int(n)))
    cloth = sum((width + overlap * len(ply)) * length for ply in seams) / MM2_PER_M2
    bare = width * length * n / MM2_PER_M2
    notes = ("overlap_below_rule",) if overlap < OVERLAP_RULE_MM else ()
    if n > 1 and _nearest(seams) < CENTRES_RULE_MM - SAME_MM:
        notes = (*notes, "seams_too_near")
    return Strips(
        strips_n=tuple(len(ply) + 1 for ply in seams),
        seams_mm=seams,
        cloth_m2=cloth,
        extra_pct=100.0 * (cloth / bare - 1.0),
        notes=notes,
    )


def _cut(ply: PlyLaid, width_mm: float, length_mm: float | None) -> PatchPly:
    face = pi / 4.0 * width_mm * width_mm if length_mm is None else width_mm * length_mm
    area_m2 = face / MM2_PER_M2
    return PatchPly(
        width_mm=width_mm,
        area_m2=area_m2,
        fibre_kg=ply.fibre_kg_m2 * area_m2,
        resin_kg=ply.resin_kg_m2 * area_m2,
        thickness_mm=ply.thickness_mm,
    )


def _seams(width: float, roll: float, overlap: float, shift: float) -> tuple[float, ...]:
    """Give where each further strip of a ply begins, its first strip cut narrower by the shift."""
    pitch = roll - overlap
    at = pitch - shift % pitch
    found: list[float] = []
    while at + overlap < width - SAME_MM:
        found.append(at)
        at += pitch
    return tuple(found)


def _nearest(seams: Sequence[Sequence[float]]) -> float:
    """Give the least distance between seams of plies that lie on one another."""
    return min(
        (abs(one - other) for below, above in pairwise(seams) for one in below for other in above),
        default=float("inf"),
    )
