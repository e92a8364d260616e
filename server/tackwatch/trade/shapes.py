"""Areas of simple shapes, and hulls by formula and by rule of thumb.

Theory
------
Each shape has its formula in plane or solid geometry; a cylinder, half cylinder and cone are their
curved sides alone. Denny and Mumford give a hull's wetted area as 1.7 L T + V / T.

Rules
-----
* A shape takes exactly its own lengths: one that is missing is asked for, one that does not belong
  to it is refused, so that nothing is measured in vain.
* Rules of thumb are marked `common_practice`; they are for ordering paint, not for naval
  architecture. The beam and draft are those at the waterline, without keel fin and rudder where a
  rule says so.

Source
------
Geometry. Denny-Mumford: Principles of Naval Architecture, volume II, chapter 5. Rules of thumb:
common practice, no source; the multihull's factor is that of a half-round hull, pi / 4, with a
tenth off for its fine ends.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import hypot, pi
from typing import Final, Literal

from tackwatch.trade.errors import TradeError

Shape = Literal[
    "rectangle",
    "triangle",
    "trapezium",
    "circle",
    "ellipse",
    "cylinder",
    "half_cylinder",
    "cone",
    "half_sphere",
]
HullPart = Literal[
    "bottom_long_keel", "bottom_cruising", "bottom_fin_keel", "bottom_multihull", "topsides", "deck"
]

BOTTOM_FACTORS: Final[Mapping[str, float]] = {
    "bottom_long_keel": 1.0,
    "bottom_cruising": 0.75,
    "bottom_fin_keel": 0.5,
}
MULTIHULL_FACTOR: Final = 0.9 * pi / 4.0
DECK_FACTOR: Final = 0.75
MUMFORD: Final = 1.7


@dataclass(frozen=True, slots=True)
class Formula:
    """The lengths that a shape takes, in the order in which its formula takes them."""

    lengths: tuple[str, ...]
    area_m2: Callable[..., float]


SHAPES: Final[Mapping[Shape, Formula]] = {
    "rectangle": Formula(("length_m", "width_m"), lambda a, b: a * b),
    "triangle": Formula(("length_m", "height_m"), lambda a, h: a * h / 2.0),
    "trapezium": Formula(
        ("length_m", "other_length_m", "height_m"), lambda a, b, h: (a + b) * h / 2.0
    ),
    "circle": Formula(("diameter_m",), lambda d: pi * d * d / 4.0),
    "ellipse": Formula(("length_m", "width_m"), lambda a, b: pi * a * b / 4.0),
    "cylinder": Formula(("diameter_m", "length_m"), lambda d, a: pi * d * a),
    "half_cylinder": Formula(("diameter_m", "length_m"), lambda d, a: pi * d * a / 2.0),
    "cone": Formula(("diameter_m", "height_m"), lambda d, h: pi * d / 2.0 * hypot(d / 2.0, h)),
    "half_sphere": Formula(("diameter_m",), lambda d: pi * d * d / 2.0),
}


def shape_area_m2(shape: Shape, lengths_m: Mapping[str, float | None]) -> float:
    """Give the area of a shape from its lengths.

    Raises
    ------
    TradeError
        Naming a length that is missing, or that does not belong to the shape.
    """
    formula = SHAPES[shape]
    for name, value in lengths_m.items():
        if name in formula.lengths and value is None:
            raise TradeError(name, f"is needed for this shape ({shape})")
        if name not in formula.lengths and value is not None:
            raise TradeError(name, f"does not belong to this shape ({shape})")
    return formula.area_m2(*(lengths_m[name] for name in formula.lengths))


def volume_m3(volume: float | None, mass_kg: float | None, density_kg_m3: float) -> float:
    """Give the displaced volume, from whichever of volume and mass is known.

    Raises
    ------
    TradeError
        When both or neither are given.
    """
    if (volume is None) == (mass_kg is None):
        raise TradeError("displacement_m3", "give the volume or the mass, one of them")
    return (mass_kg or 0.0) / density_kg_m3 if volume is None else volume


def mumford_m2(length_m: float, draft_m: float, displacement_m3: float) -> float:
    """Give the wetted area of a hull by Denny and Mumford."""
    return MUMFORD * length_m * draft_m + displacement_m3 / draft_m


def hull_part_m2(
    part: HullPart,
    length_m: float,
    beam_m: float,
    draft_m: float | None,
    freeboard_m: float | None,
    hulls: int,
) -> float:
    """Give a part of a boat by rule of thumb.

    Raises
    ------
    TradeError
        When the rule needs a length that is not given.
    """
    if part == "deck":
        return DECK_FACTOR * length_m * beam_m
    if part == "topsides":
        return 2.0 * (length_m + beam_m) * _needed(freeboard_m, "freeboard_m", part)
    draft = _needed(draft_m, "draft_m", part)
    if part == "bottom_multihull":
        return hulls * MULTIHULL_FACTOR * length_m * (beam_m + 2.0 * draft)
    return BOTTOM_FACTORS[part] * length_m * (beam_m + draft)


def _needed(length_m: float | None, field: str, part: str) -> float:
    if length_m is None:
        raise TradeError(field, f"is needed for this part ({part})")
    return length_m
