"""The sums about paint: how far it goes, what a method loses, and what to buy.

Source
------
See `trade.film` and `trade.packs`.
"""

from dataclasses import dataclass, field
from math import fsum
from typing import Final

from tackwatch.trade import film, packs
from tackwatch.trade.sums.film import DRY, HANDBOOK, SOLIDS, THINNING
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity, several

LOSS: Final = quantity("%", "Part of the paint that never becomes film", least=0.0, most=90.0)
METHOD: Final = note("How it is laid; stands for the usual loss")
AREA: Final = quantity("m2", "Area to coat", above=0.0, most=100_000.0)
SIZES: Final = several(
    quantity("l", "Pack", least=0.01, most=60.0), "Sizes of the packs that are sold", at_most=8
)
PRACTICE: Final = f"{HANDBOOK}; loss by method: common practice, no source"


@dataclass(frozen=True, slots=True)
class SpreadingTakes:
    """The paint, its dry film, and the loss or the method."""

    dry_film_um: float = field(metadata=DRY)
    solids_by_volume_pct: float = field(metadata=SOLIDS)
    loss_pct: float | None = field(default=None, metadata=LOSS)
    method: film.Method | None = field(default=None, metadata=METHOD)


@dataclass(frozen=True, slots=True)
class SpreadingGives:
    """How far a litre from the tin goes."""

    theoretical_m2_per_l: float = field(metadata=measured("m2/l", "When nothing is lost"))
    practical_m2_per_l: float = field(metadata=measured("m2/l", "After the loss"))
    loss_pct: float = field(metadata=measured("%", "Loss that was reckoned with"))
    basis: Basis = field(metadata=note("What the loss rests on"))


@dataclass(frozen=True, slots=True)
class LossTakes:
    """How paint is laid."""

    method: film.Method = field(metadata=note("How it is laid"))


@dataclass(frozen=True, slots=True)
class LossGives:
    """What that method loses."""

    low_pct: float = field(metadata=measured("%", "Loss on a calm day, large flat areas"))
    usual_pct: float = field(metadata=measured("%", "Usual loss"))
    high_pct: float = field(metadata=measured("%", "Loss in wind, on small or open work"))
    basis: Basis = field(metadata=note("What the figures rest on"))


@dataclass(frozen=True, slots=True)
class PaintTakes:
    """Area, coats and paint; and the packs that are sold, where they are known."""

    area_m2: float = field(metadata=AREA)
    dry_film_um: float = field(metadata=DRY)
    solids_by_volume_pct: float = field(metadata=SOLIDS)
    coats: int = field(default=1, metadata=quantity("1", "Coats", least=1.0, most=50.0))
    loss_pct: float | None = field(default=None, metadata=LOSS)
    method: film.Method | None = field(default=None, metadata=METHOD)
    thinning_pct: float = field(default=0.0, metadata=THINNING)
    pack_sizes_l: tuple[float, ...] = field(default=(), metadata=SIZES)


@dataclass(frozen=True, slots=True)
class Packs:
    """So many packs of one size."""

    pack_l: float = field(metadata=measured("l", "Size of the pack"))
    count: int = field(metadata=measured("1", "How many"))


@dataclass(frozen=True, slots=True)
class PaintGives:
    """What is needed, and what to buy."""

    theoretical_l: float = field(metadata=measured("l", "Paint that becomes film"))
    order_l: float = field(metadata=measured("l", "Paint that is needed, with the loss"))
    thinner_l: float = field(metadata=measured("l", "Thinner for it"))
    per_coat_l: float = field(metadata=measured("l", "Paint for each coat, with the loss"))
    packs: tuple[Packs, ...] = field(metadata=note("Packs to buy; fewest, then least left over"))
    pack_count: int = field(metadata=measured("1", "Packs in all"))
    packs_l: float = field(metadata=measured("l", "Paint in these packs"))
    left_over_l: float = field(metadata=measured("l", "Left when the work is done"))
    loss_pct: float = field(metadata=measured("%", "Loss that was reckoned with"))
    basis: Basis = field(metadata=note("What the loss rests on"))


def spreading_rate(given: SpreadingTakes) -> SpreadingGives:
    """Give how far a litre goes, in theory and in practice."""
    loss_pct = film.loss_pct_of(given.loss_pct, given.method)
    theoretical = film.theoretical_m2_per_l(given.dry_film_um, given.solids_by_volume_pct)
    practical = film.after_loss(theoretical, loss_pct)
    return SpreadingGives(theoretical, practical, loss_pct, _basis(given.method))


def loss_by_method(given: LossTakes) -> LossGives:
    """Give the loss of a method."""
    loss = film.LOSS_BY_METHOD[given.method]
    return LossGives(loss.low_pct, loss.usual_pct, loss.high_pct, "common_practice")


def paint_needed(given: PaintTakes) -> PaintGives:
    """Give the litres and packs for an area."""
    loss_pct = film.loss_pct_of(given.loss_pct, given.method)
    per_l = film.theoretical_m2_per_l(given.dry_film_um, given.solids_by_volume_pct)
    theoretical = given.area_m2 * given.coats / per_l
    order = film.before_loss(theoretical, loss_pct)
    bought = packs.packs_for(order, given.pack_sizes_l) if given.pack_sizes_l else ()
    packs_l = fsum(one.pack_l * one.count for one in bought)
    return PaintGives(
        theoretical_l=theoretical,
        order_l=order,
        thinner_l=order * given.thinning_pct / 100.0,
        per_coat_l=order / given.coats,
        packs=tuple(Packs(one.pack_l, one.count) for one in bought),
        pack_count=sum(one.count for one in bought),
        packs_l=packs_l,
        left_over_l=max(0.0, packs_l - order) if bought else 0.0,
        loss_pct=loss_pct,
        basis=_basis(given.method),
    )


def _basis(method: film.Method | None) -> Basis:
    return "formula" if method is None else "common_practice"


SUMS: Final = (
    Sum(
        "spreading_rate",
        "film",
        "How many square metres a litre covers, in theory and after the loss.",
        SpreadingTakes,
        SpreadingGives,
        spreading_rate,
        PRACTICE,
    ),
    Sum(
        "loss_by_method",
        "film",
        "How much paint a roller, a brush or a spray gun loses.",
        LossTakes,
        LossGives,
        loss_by_method,
        "Common practice, no source",
    ),
    Sum(
        "paint_needed",
        "film",
        "How many litres and packs an area needs.",
        PaintTakes,
        PaintGives,
        paint_needed,
        PRACTICE,
        ("solvents",),
    ),
)
