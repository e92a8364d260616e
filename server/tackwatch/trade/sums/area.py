"""The sums about areas: girths, shapes, and hulls by formula and rule of thumb.

Source
------
See `trade.area` and `trade.shapes`.
"""

from dataclasses import dataclass, field
from math import fsum
from typing import Final, Literal

from tackwatch.trade import area, shapes
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity, several

LENGTH: Final = quantity("m", "Length", above=0.0, most=200.0)
OPENINGS: Final = several(
    quantity("m2", "Opening", least=0.0, most=10_000.0), "Openings to take away"
)
NET: Final = measured("m2", "Area less the openings")
GROSS: Final = measured("m2", "Area with the openings")


@dataclass(frozen=True, slots=True)
class GirthsTakes:
    """Girths at stations, where the stations stand, and whether they are of one side."""

    girths_m: tuple[float, ...] = field(
        metadata=several(
            quantity("m", "Girth", least=0.0, most=100.0),
            "Girths from end to end",
            fewest=2,
            at_most=400,
        )
    )
    spacing_m: float | None = field(
        default=None, metadata=quantity("m", "Distance between stations", above=0.0, most=50.0)
    )
    stations_m: tuple[float, ...] | None = field(
        default=None,
        metadata=several(
            quantity("m", "Station", least=-200.0, most=200.0),
            "Where each girth was measured, rising",
            fewest=2,
            at_most=400,
        ),
    )
    girths_are: Literal["one_side", "whole"] = field(
        default="one_side", metadata=note("Girths of one side are doubled")
    )
    openings_m2: tuple[float, ...] = field(default=(), metadata=OPENINGS)


@dataclass(frozen=True, slots=True)
class GirthsGives:
    """The area, and how it was summed."""

    area_m2: float = field(metadata=NET)
    gross_m2: float = field(metadata=GROSS)
    stations: int = field(metadata=measured("1", "Number of stations"))
    basis: Basis = field(metadata=note("What the answer rests on"))
    reasons: tuple[str, ...] = field(
        metadata=note(
            "Codes: slope_left_out, last_interval_by_parabola (an even number of stations), "
            "straight_line (two stations)"
        )
    )


@dataclass(frozen=True, slots=True)
class ShapeTakes:
    """A shape and its lengths: those that belong to it, and no others."""

    shape: shapes.Shape = field(metadata=note("Shape"))
    length_m: float | None = field(default=None, metadata=LENGTH)
    width_m: float | None = field(default=None, metadata={**LENGTH, "about": "Width"})
    other_length_m: float | None = field(
        default=None, metadata={**LENGTH, "about": "The other parallel side"}
    )
    height_m: float | None = field(default=None, metadata={**LENGTH, "about": "Height"})
    diameter_m: float | None = field(default=None, metadata={**LENGTH, "about": "Diameter"})
    count: int = field(default=1, metadata=quantity("1", "How many", least=1.0, most=1000.0))
    openings_m2: tuple[float, ...] = field(default=(), metadata=OPENINGS)


@dataclass(frozen=True, slots=True)
class AreaGives:
    """The area with and without its openings."""

    area_m2: float = field(metadata=NET)
    gross_m2: float = field(metadata=GROSS)


@dataclass(frozen=True, slots=True)
class NetTakes:
    """Areas to add, whether there is the same on the other side, and openings."""

    areas_m2: tuple[float, ...] = field(
        metadata=several(
            quantity("m2", "Area", least=0.0, most=100_000.0), "Areas to add up", fewest=1
        )
    )
    twin_sides: bool = field(
        default=False, metadata=note("The same again on the other side, openings too")
    )
    openings_m2: tuple[float, ...] = field(default=(), metadata=OPENINGS)


@dataclass(frozen=True, slots=True)
class MumfordTakes:
    """A hull's lengths at the waterline and what it displaces, as mass or as volume."""

    waterline_length_m: float = field(
        metadata={**LENGTH, "about": "Length of the waterline", "least": 0.5}
    )
    draft_m: float = field(
        metadata=quantity("m", "Draft of the hull without its fin", least=0.05, most=30.0)
    )
    displacement_m3: float | None = field(
        default=None, metadata=quantity("m3", "Displaced volume", above=0.0, most=100_000.0)
    )
    displacement_kg: float | None = field(
        default=None, metadata=quantity("kg", "Displaced mass", above=0.0, most=1e8)
    )
    water_density_kg_m3: float = field(
        default=1025.0, metadata=quantity("kg/m3", "Density of the water", least=990.0, most=1050.0)
    )


@dataclass(frozen=True, slots=True)
class HullAreaGives:
    """The area, and what it rests on."""

    area_m2: float = field(metadata=measured("m2", "Area"))
    basis: Basis = field(metadata=note("What the answer rests on"))


@dataclass(frozen=True, slots=True)
class HullPartTakes:
    """A part of a boat and its main lengths."""

    part: shapes.HullPart = field(metadata=note("Which part"))
    length_m: float = field(
        metadata={**LENGTH, "about": "Length: of the waterline for a bottom, over all otherwise"}
    )
    beam_m: float = field(
        metadata={**LENGTH, "about": "Beam: of one hull at the waterline for a multihull's bottom"}
    )
    draft_m: float | None = field(default=None, metadata={**LENGTH, "about": "Draft, for bottoms"})
    freeboard_m: float | None = field(
        default=None, metadata={**LENGTH, "about": "Mean freeboard, for topsides"}
    )
    hulls: int = field(
        default=2, metadata=quantity("1", "Hulls, for a multihull's bottom", least=2.0, most=5.0)
    )
    openings_m2: tuple[float, ...] = field(default=(), metadata=OPENINGS)


@dataclass(frozen=True, slots=True)
class HullPartGives:
    """The area by rule of thumb."""

    area_m2: float = field(metadata=NET)
    gross_m2: float = field(metadata=GROSS)
    basis: Basis = field(metadata=note("What the answer rests on"))


def area_from_girths(given: GirthsTakes) -> GirthsGives:
    """Give the area from measured girths."""
    count = len(given.girths_m)
    gaps = area.spacings_m(given.stations_m, given.spacing_m, count)
    sides = 2.0 if given.girths_are == "one_side" else 1.0
    gross = sides * max(0.0, area.simpson(given.girths_m, gaps))
    reasons = ["slope_left_out"]
    if count == 2:
        reasons.append("straight_line")
    elif count % 2 == 0:
        reasons.append("last_interval_by_parabola")
    net = area.less_openings_m2(gross, given.openings_m2)
    return GirthsGives(net, gross, count, "formula", tuple(reasons))


def shape_area(given: ShapeTakes) -> AreaGives:
    """Give the area of a simple shape."""
    names = ("length_m", "width_m", "other_length_m", "height_m", "diameter_m")
    lengths = {name: getattr(given, name) for name in names}
    gross = given.count * shapes.shape_area_m2(given.shape, lengths)
    return AreaGives(area.less_openings_m2(gross, given.openings_m2), gross)


def net_area(given: NetTakes) -> AreaGives:
    """Add areas, double them for twin sides, and take the openings away."""
    sides = 2.0 if given.twin_sides else 1.0
    gross = fsum(given.areas_m2)
    net = area.less_openings_m2(gross, given.openings_m2)
    return AreaGives(sides * net, sides * gross)


def wetted_area_mumford(given: MumfordTakes) -> HullAreaGives:
    """Give a hull's wetted area by Denny and Mumford."""
    volume = shapes.volume_m3(
        given.displacement_m3, given.displacement_kg, given.water_density_kg_m3
    )
    wetted = shapes.mumford_m2(given.waterline_length_m, given.draft_m, volume)
    return HullAreaGives(wetted, "rule_of_thumb")


def hull_rule_of_thumb(given: HullPartTakes) -> HullPartGives:
    """Give a part of a boat by rule of thumb."""
    gross = shapes.hull_part_m2(
        given.part, given.length_m, given.beam_m, given.draft_m, given.freeboard_m, given.hulls
    )
    net = area.less_openings_m2(gross, given.openings_m2)
    return HullPartGives(net, gross, "common_practice")


SUMS: Final = (
    Sum(
        "area_from_girths",
        "area",
        "The area of a hull from girths measured at stations.",
        GirthsTakes,
        GirthsGives,
        area_from_girths,
        "Simpson's rule, unequal spacing and last interval after Cartwright (2017)",
    ),
    Sum(
        "shape_area",
        "area",
        "The area of a simple shape, so many times, less openings.",
        ShapeTakes,
        AreaGives,
        shape_area,
        "Geometry",
    ),
    Sum(
        "net_area",
        "area",
        "Areas added up, doubled for twin sides, less openings.",
        NetTakes,
        AreaGives,
        net_area,
        "Definition",
    ),
    Sum(
        "wetted_area_mumford",
        "area",
        "The wetted area of a hull from its length, draft and displacement.",
        MumfordTakes,
        HullAreaGives,
        wetted_area_mumford,
        "Denny-Mumford: Principles of Naval Architecture, volume II, chapter 5",
    ),
    Sum(
        "hull_rule_of_thumb",
        "area",
        "A bottom, topsides or deck by rule of thumb, for ordering paint.",
        HullPartTakes,
        HullPartGives,
        hull_rule_of_thumb,
        "Common practice, no source",
    ),
)
