"""Fillets and filler: how much a bead takes, and how much filler makes the resin stand.

Theory
------
A concave fillet of radius r touches both faces of a corner whose included angle is theta. Between
the two tangents of length r / tan(theta / 2) and the arc lies r^2 (1 / tan(theta / 2) - (pi - theta)
/ 2): for a right angle r^2 (1 - pi / 4). One square millimetre along a metre is one millilitre.

Filler is added by loose volume: p parts to one part of mixed resin. Its powder weighs p b kilograms
a litre of resin (b: loose density) and swells the mix by p b / s (s: density of its grains), since
resin fills what lies between.

Rules
-----
* Parts for a consistency are common practice, given as a range and marked `typical`; the stick
  decides, not the number. Light fillers are for fairing, never for a structural fillet.
* What is lost is a share of what is mixed, as for a laminate.

Source
------
Geometry. Parts, loose and grain densities of fillers: common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, radians, sin, tan
from typing import Final, Literal

from tackwatch.trade.errors import TradeError
from tackwatch.trade.laminate import WASTE_MAX_PCT, WASTE_PCT, within

Filler = Literal["silica", "fibre", "bubbles"]
Consistency = Literal["runs", "sags", "stands"]

CONSISTENCIES: Final[tuple[Consistency, ...]] = ("runs", "sags", "stands")
EPOXY_KG_L: Final = 1.15


@dataclass(frozen=True, slots=True)
class FillerKind:
    """A filler: loose and grain density, and parts by loose volume for each consistency."""

    loose_kg_l: float
    grain_kg_l: float
    parts: Mapping[Consistency, tuple[float, float]]
    structural: bool


FILLERS: Final[Mapping[Filler, FillerKind]] = {
    "silica": FillerKind(
        0.05, 2.2, {"runs": (0.5, 1.0), "sags": (1.0, 1.5), "stands": (1.5, 2.5)}, structural=True
    ),
    "fibre": FillerKind(
        0.2, 1.5, {"runs": (0.3, 0.6), "sags": (0.6, 1.0), "stands": (1.0, 1.6)}, structural=True
    ),
    "bubbles": FillerKind(
        0.12, 0.2, {"runs": (0.7, 1.2), "sags": (1.2, 2.0), "stands": (2.0, 3.0)}, structural=False
    ),
}


@dataclass(frozen=True, slots=True)
class Fillet:
    """A bead in a corner: its face, what it takes on a metre, and on the whole length."""

    leg_mm: float
    throat_mm: float
    face_mm2: float
    ml_per_m: float
    volume_l: float


@dataclass(frozen=True, slots=True)
class Filled:
    """A thickened mix: resin and filler for a volume of paste that is laid."""

    resin_kg: float
    filler_kg: float
    filler_loose_l: float
    paste_l: float
    density_kg_l: float
    parts_low: float
    parts_high: float
    typical: bool
    structural: bool


def fillet(radius_mm: float, length_m: float, angle_deg: float = 90.0) -> Fillet:
    """Give the volume of a concave fillet.

    Parameters
    ----------
    radius_mm : float
        Radius of the stick that draws it.
    length_m : float
        Length of the corner.
    angle_deg : float
        Included angle between the two faces, 10 to 170 degrees.

    Source
    ------
    Geometry (see the head of the module).
    """
    radius = within(radius_mm, "radius_mm", 0.1, 1000.0)
    length = within(length_m, "length_m", 0.0, 100_000.0)
    angle = radians(within(angle_deg, "angle_deg", 10.0, 170.0))
    leg = radius / tan(angle / 2.0)
    face = radius * radius * (1.0 / tan(angle / 2.0) - (pi - angle) / 2.0)
    return Fillet(
        leg_mm=leg,
        throat_mm=radius * (1.0 / sin(angle / 2.0) - 1.0),
        face_mm2=face,
        ml_per_m=face,
        volume_l=face * length / 1000.0,
    )


def filled(
    volume_l: float,
    filler: Filler,
    consistency: Consistency,
    parts: float | None = None,
    resin_kg_l: float = EPOXY_KG_L,
    waste_pct: float = WASTE_PCT,
) -> Filled:
    """Give resin and filler for a volume of paste that is to be laid.

    Parameters
    ----------
    volume_l : float
        The paste that reaches the work.
    filler : {'silica', 'fibre', 'bubbles'}
        What is stirred in.
    consistency : {'runs', 'sags', 'stands'}
        What the paste does on an upright stick.
    parts : float, optional
        Parts by loose volume to one of mixed resin; the middle of the usual range when left out.
    resin_kg_l : float
        Density of the mixed resin.
    waste_pct : float
        The share of the mix that is lost in pot and tools.

    Source
    ------
    See the head of the module.
    """
    kind = FILLERS.get(filler)
    if kind is None:
        raise TradeError("filler", f"must be one of {', '.join(FILLERS)}")
    if consistency not in CONSISTENCIES:
        raise TradeError("consistency", f"must be one of {', '.join(CONSISTENCIES)}")
    laid = within(volume_l, "volume_l", 0.0, 10_000.0)
    low, high = kind.parts[consistency]
    used = (low + high) / 2.0 if parts is None else within(parts, "parts", 0.0, 10.0)
    rho = within(resin_kg_l, "resin_kg_l", 0.5, 5.0)
    lost = within(waste_pct, "waste_pct", 0.0, WASTE_MAX_PCT) / 100.0
    paste = laid / (1.0 - lost)
    swell = 1.0 + used * kind.loose_kg_l / kind.grain_kg_l
    resin_l = paste / swell
    return Filled(
        resin_kg=resin_l * rho,
        filler_kg=resin_l * used * kind.loose_kg_l,
        filler_loose_l=resin_l * used,
        paste_l=paste,
        density_kg_l=(rho + used * kind.loose_kg_l) / swell,
        parts_low=low,
        parts_high=high,
        typical=parts is None,
        structural=kind.structural,
    )
