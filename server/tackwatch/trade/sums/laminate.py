"""The sums of a laminate: plies, schedules, tapers, patches, strips, fillets and filler.

Source
------
See `trade.laminate`, `trade.scarf` and `trade.fillet`.
"""

from dataclasses import dataclass, field
from typing import Any, Final

from tackwatch.trade import fillet as beads
from tackwatch.trade import laminate as layers
from tackwatch.trade import scarf
from tackwatch.trade.sums.described import described
from tackwatch.trade.sums.sum import Sum, note, quantity

WORDS: Final = {
    "kind": "Kind of the cloth",
    "thickness_mm": "Thickness, wetted out and without voids",
    "fibre_kg_m2": "Glass on a square metre",
    "resin_kg_m2": "Resin that stays in a square metre",
    "mass_kg_m2": "Glass and resin of a square metre",
    "glass_pct": "Glass content by mass",
    "fibre_volume_pct": "Share of the fibre by volume",
    "density_kg_l": "Density of the whole",
    "basis": "Whether the glass content was given or is typical of the kind",
    "plies": "Each ply, in the order of laying",
    "fibre_kg": "Glass in all",
    "resin_kg": "Mixed resin, without what is lost for a ply",
    "resin_laid_kg": "Resin that stays in the work",
    "resin_mixed_kg": "Resin to mix, with what stays in pot and tools",
    "mass_kg": "Glass and resin in all",
    "typical": "Whether a value that is only typical was used",
    "cure_h": "Leave it to cure at least so long before it is worked or loaded",
    "cure_min_c": "At least so warm while it cures",
    "run_mm": "How far the taper reaches from the edge",
    "outer_mm": "Width of the ground place from edge to edge",
    "ring_mm2": "Ground ring, without the hole",
    "notes": "What a rule of the trade would not like",
    "taper": "The ground taper",
    "width_mm": "Diameter of the ply, or its width along a joint",
    "area_m2": "Area of the ply",
    "strips_n": "Strips of each ply",
    "seams_mm": "Where each further strip begins, ply by ply",
    "cloth_m2": "Cloth to cut, overlaps with it",
    "extra_pct": "Cloth that the overlaps take beyond the bare area",
    "leg_mm": "From the corner to where the fillet touches a face",
    "throat_mm": "From the corner to the fillet's face",
    "face_mm2": "Cross-section of the fillet",
    "ml_per_m": "Volume along one metre",
    "volume_l": "Volume along the whole length",
    "filler_kg": "Filler by mass",
    "filler_loose_l": "Filler by loose volume",
    "paste_l": "Paste to make, with what is lost",
    "parts_low": "Parts of filler at the lower end of what is usual",
    "parts_high": "Parts of filler at the upper end of what is usual",
    "structural": "Whether the filler may carry load",
}
FIBRE: Final = quantity("kg/m2", WORDS["fibre_kg_m2"], least=0.001, most=layers.FIBRE_MAX_KG_M2)
CONTENT: Final = quantity("%", f"{WORDS['glass_pct']}; typical when null", least=5.0, most=90.0)
FIBRE_RHO: Final = quantity("kg/l", "Density of the fibre", least=0.5, most=20.0)
RESIN_RHO: Final = quantity("kg/l", "Density of the cured resin", least=0.5, most=5.0)
LENGTH: Final = {"least": 1.0, "most": scarf.LENGTH_MAX_MM}
HOLE: Final = quantity("mm", "Diameter of the hole, or width of the gap", least=0.0, most=1e6)
THICKNESS: Final = quantity("mm", "Thickness of the laminate", least=0.01, most=1000.0)
RATIO: Final = quantity("1", "Length of the taper to its depth", least=1.0, most=200.0)
OVERLAP: Final = quantity("mm", "Overlap", least=0.0, most=10_000.0)
WASTE_PCT: Final = quantity(
    "%", "Share of the mix that never reaches the work", least=0.0, most=layers.WASTE_MAX_PCT
)
ISO: Final = "ISO 12215-5, quoted from memory; typical glass contents from memory"
CRAFT: Final = (
    "first mat at most 450 g/m2, 48 h at 18 degC: classification society rules for GRP craft, "
    "production procedures 3.2.3 and 3.2.7"
)
RESIN_CAUTIONS: Final = ("pot_heat", "skin_sensitising")
GRIND_CAUTIONS: Final = ("dust", *RESIN_CAUTIONS)


@dataclass(frozen=True, slots=True)
class WasteTakes:
    """Resin that is mixed and never reaches the work."""

    pct: float = field(default=layers.WASTE_PCT, metadata=WASTE_PCT)
    tools_n: int = field(
        default=0, metadata=quantity("1", "Rollers and brushes wetted", least=0.0, most=1000.0)
    )
    tool_kg: float = field(
        default=0.0,
        metadata=quantity("kg", "Resin that stays in one of them", least=0.0, most=1000.0),
    )


@dataclass(frozen=True, slots=True)
class LayerTakes:
    """One layer of cloth in a schedule."""

    kind: layers.PlyKind = field(metadata=note(WORDS["kind"]))
    fibre_kg_m2: float = field(metadata=FIBRE)
    glass_pct: float | None = field(default=None, metadata=CONTENT)


@dataclass(frozen=True, slots=True)
class PlyTakes:
    """One layer of cloth."""

    kind: layers.PlyKind = field(metadata=note(WORDS["kind"]))
    fibre_kg_m2: float = field(metadata=FIBRE)
    glass_pct: float | None = field(default=None, metadata=CONTENT)
    fibre_kg_l: float = field(default=layers.GLASS_KG_L, metadata=FIBRE_RHO)
    resin_kg_l: float = field(default=layers.RESIN_KG_L, metadata=RESIN_RHO)


@dataclass(frozen=True, slots=True)
class ScheduleTakes:
    """A schedule of plies on an area."""

    plies: tuple[LayerTakes, ...] = field(
        metadata=note(WORDS["plies"], fewest=1, at_most=layers.PLIES_MAX_N)
    )
    area_m2: float = field(
        metadata=quantity("m2", "Area that each ply covers", least=0.0, most=layers.AREA_MAX_M2)
    )
    waste: WasteTakes = field(default_factory=WasteTakes, metadata=note("What is lost"))
    fibre_kg_l: float = field(default=layers.GLASS_KG_L, metadata=FIBRE_RHO)
    resin_kg_l: float = field(default=layers.RESIN_KG_L, metadata=RESIN_RHO)
    on_gelcoat: bool = field(
        default=False, metadata=note("Whether the first ply lies against gelcoat")
    )


@dataclass(frozen=True, slots=True)
class TaperTakes:
    """A hole in a laminate that is to be ground."""

    hole_mm: float = field(metadata=HOLE)
    thickness_mm: float = field(metadata=THICKNESS)
    ratio: float = field(default=scarf.RATIO_RULE, metadata=RATIO)


@dataclass(frozen=True, slots=True)
class PatchTakes:
    """A repair round a hole, or along a straight joint."""

    plies: tuple[LayerTakes, ...] = field(
        metadata=note("Plies from the bottom to the top", fewest=1, at_most=layers.PLIES_MAX_N)
    )
    hole_mm: float = field(metadata=HOLE)
    thickness_mm: float = field(metadata=THICKNESS)
    ratio: float = field(default=scarf.RATIO_RULE, metadata=RATIO)
    overlap_mm: float = field(default=scarf.OVERLAP_RULE_MM, metadata=OVERLAP)
    length_mm: float | None = field(
        default=None,
        metadata=quantity("mm", "Length of a straight joint; round when null", **LENGTH),
    )
    waste: WasteTakes = field(default_factory=WasteTakes, metadata=note("What is lost"))
    fibre_kg_l: float = field(default=layers.GLASS_KG_L, metadata=FIBRE_RHO)
    resin_kg_l: float = field(default=layers.RESIN_KG_L, metadata=RESIN_RHO)


@dataclass(frozen=True, slots=True)
class StripsTakes:
    """An area that strips of a roll are to cover."""

    width_mm: float = field(metadata=quantity("mm", "Width to cover", **LENGTH))
    length_mm: float = field(metadata=quantity("mm", "Length of the strips", **LENGTH))
    roll_mm: float = field(metadata=quantity("mm", "Width of the roll", least=20.0, most=10_000.0))
    plies_n: int = field(
        default=1, metadata=quantity("1", "Plies of that cloth", least=1.0, most=200.0)
    )
    overlap_mm: float = field(default=scarf.OVERLAP_RULE_MM, metadata=OVERLAP)
    stagger_mm: float = field(
        default=scarf.CENTRES_RULE_MM,
        metadata=quantity("mm", "Seams of a ply from those below", least=0.0, most=10_000.0),
    )


@dataclass(frozen=True, slots=True)
class FilletTakes:
    """A bead in a corner."""

    radius_mm: float = field(metadata=quantity("mm", "Radius of the stick", least=0.1, most=1000.0))
    length_m: float = field(
        metadata=quantity("m", "Length of the corner", least=0.0, most=100_000.0)
    )
    angle_deg: float = field(
        default=90.0,
        metadata=quantity("deg", "Included angle between the faces", least=10.0, most=170.0),
    )


@dataclass(frozen=True, slots=True)
class FillerTakes:
    """Paste that is to be laid."""

    volume_l: float = field(metadata=quantity("l", "Paste on the work", least=0.0, most=10_000.0))
    filler: beads.Filler = field(metadata=note("What is stirred in"))
    consistency: beads.Consistency = field(metadata=note("What it does on an upright stick"))
    parts: float | None = field(
        default=None,
        metadata=quantity(
            "1",
            "Loose filler to one part of resin by volume; usual when null",
            least=0.0,
            most=10.0,
        ),
    )
    resin_kg_l: float = field(
        default=beads.EPOXY_KG_L,
        metadata=quantity("kg/l", "Density of the mixed resin", least=0.5, most=5.0),
    )
    waste_pct: float = field(default=layers.WASTE_PCT, metadata=WASTE_PCT)


def _plies(given: tuple[LayerTakes, ...]) -> tuple[layers.Ply, ...]:
    return tuple(layers.Ply(one.kind, one.fibre_kg_m2, one.glass_pct) for one in given)


def _waste(given: WasteTakes) -> layers.Waste:
    return layers.Waste(given.pct, given.tools_n, given.tool_kg)


def _ply(given: PlyTakes) -> layers.PlyLaid:
    ply = layers.Ply(given.kind, given.fibre_kg_m2, given.glass_pct)
    return layers.ply_laid(ply, given.fibre_kg_l, given.resin_kg_l)


def _schedule(given: ScheduleTakes) -> layers.Laminate:
    plies, waste = _plies(given.plies), _waste(given.waste)
    return layers.laminate(
        plies, given.area_m2, waste, given.fibre_kg_l, given.resin_kg_l, given.on_gelcoat
    )


def _patch(given: PatchTakes) -> scarf.Patch:
    return scarf.patch(
        plies=_plies(given.plies),
        hole_mm=given.hole_mm,
        thickness_mm=given.thickness_mm,
        ratio=given.ratio,
        overlap_mm=given.overlap_mm,
        length_mm=given.length_mm,
        waste=_waste(given.waste),
        fibre_kg_l=given.fibre_kg_l,
        resin_kg_l=given.resin_kg_l,
    )


def _strips(given: StripsTakes) -> scarf.Strips:
    return scarf.strips(
        width_mm=given.width_mm,
        length_mm=given.length_mm,
        roll_mm=given.roll_mm,
        plies_n=given.plies_n,
        overlap_mm=given.overlap_mm,
        stagger_mm=given.stagger_mm,
    )


def _filled(given: FillerTakes) -> beads.Filled:
    return beads.filled(
        volume_l=given.volume_l,
        filler=given.filler,
        consistency=given.consistency,
        parts=given.parts,
        resin_kg_l=given.resin_kg_l,
        waste_pct=given.waste_pct,
    )


def _gives(kind: type[Any], **other: str) -> type[Any]:
    return described(kind, {**WORDS, **other})


SUMS: Final = (
    Sum(
        "laminate_ply",
        "laminate",
        "Thickness and resin of one ply of cloth.",
        PlyTakes,
        _gives(layers.PlyLaid),
        _ply,
        ISO,
        RESIN_CAUTIONS,
    ),
    Sum(
        "laminate_schedule",
        "laminate",
        "Thickness, mass and resin of a schedule of plies on an area.",
        ScheduleTakes,
        _gives(layers.Laminate),
        _schedule,
        f"{ISO}; {CRAFT}",
        RESIN_CAUTIONS,
    ),
    Sum(
        "scarf_taper",
        "laminate",
        "How wide a laminate is to be ground round a hole.",
        TaperTakes,
        _gives(scarf.Taper),
        lambda given: scarf.taper(given.hole_mm, given.thickness_mm, given.ratio),
        "Geometry; 12 to 1 from Soundings magazine, Repairing Composites",
        ("dust",),
    ),
    Sum(
        "patch_plies",
        "laminate",
        "How wide to cut each ply of a repair, and the resin that it takes.",
        PatchTakes,
        _gives(scarf.Patch),
        _patch,
        f"Geometry; {ISO}",
        GRIND_CAUTIONS,
    ),
    Sum(
        "cloth_strips",
        "laminate",
        "How many strips of a roll cover a width, and where their seams lie.",
        StripsTakes,
        _gives(scarf.Strips),
        _strips,
        "Geometry; overlap 50 mm, centres 100 mm apart: Iranian Classification Society, FRP, 301",
    ),
    Sum(
        "fillet_volume",
        "laminate",
        "How much a fillet of a radius takes.",
        FilletTakes,
        _gives(beads.Fillet),
        lambda given: beads.fillet(given.radius_mm, given.length_m, given.angle_deg),
        "Geometry",
    ),
    Sum(
        "filler_mix",
        "laminate",
        "Resin and filler for a volume of paste.",
        FillerTakes,
        _gives(beads.Filled, resin_kg="Mixed resin for the paste"),
        _filled,
        "Parts and densities of fillers: common practice, no source",
        GRIND_CAUTIONS,
    ),
)
