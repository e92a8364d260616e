"""What may go over what: one question to the table.

Theory
------
A coat holds by chemistry while what lies below has not finished curing, and by teeth once it has.
It fails when something keeps the two apart (wax, blush, silicone, gloss), when its solvent lifts
what lies below, when one hinders the cure of the other, or when the lower one moves and the upper
one does not.

Rules
-----
* Of all rows that fit, the strictest verdict counts, and every row of that verdict is told.
* `only_if` means: do the mends first, one after the other. `no` means the same where there are
  mends, and that nothing done to the surface helps where the mend is `other_product`.
* What no row speaks of is never a silent yes: it is `only_if` a test patch holds.
* A bare material is not tacky nor an old coat green, and a coat is not bare: refused.

Source
------
`compatibility_table`; the product's sheet always counts before it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from tackwatch.trade.compatibility_table import (
    BARE,
    GROUNDS,
    MATERIALS,
    OLD,
    ROWS,
    STATES,
    STYRENE,
    UNCURED,
    VERDICTS,
    Ground,
    Material,
    Mend,
    Row,
    Status,
    SurfaceState,
    Verdict,
)
from tackwatch.trade.errors import TradeError

Thinner = Literal["acetone", "white_spirit", "makers_thinner"]
Origin = Literal["published", "common_practice", "from_memory", "our_own"]

MATERIAL_OF_CLASS: Final[Mapping[str, Material]] = {
    "laminating_epoxy": "epoxy_resin",
    "epoxy_fillet": "epoxy_resin",
    "epoxy_barrier_primer": "epoxy_paint",
    "polyester_laminating": "polyester",
    "polyester_waxed": "polyester_waxed",
    "vinylester": "vinylester",
    "gelcoat": "gelcoat",
    "topcoat_two_part_pu": "polyurethane",
    "topcoat_one_part": "one_part",
    "antifouling_hard": "antifouling_hard",
    "antifouling_self_polishing": "antifouling_soft",
    "antifouling_copper_free": "antifouling_copper_free",
    "sealant": "sealant",
    "silicone": "silicone",
}
ONLY_COATS: Final = frozenset({"tacky", "green", "waxed"})
THINNERS: Final[tuple[Thinner, ...]] = ("acetone", "white_spirit", "makers_thinner")


@dataclass(frozen=True, slots=True)
class Reason:
    """A row that decided: its id, where it comes from, and who says otherwise."""

    code: str
    source: str
    status: Origin
    contested: str


@dataclass(frozen=True, slots=True)
class GoesOver:
    """The answer of the table."""

    verdict: Verdict
    mends: tuple[Mend, ...]
    or_else: tuple[Mend, ...]
    reasons: tuple[Reason, ...]


NOT_IN_TABLE: Final = GoesOver(
    "only_if", ("test_patch",), (), (Reason("not_in_table", "our own caution", "our_own", ""),)
)


def goes_over(over: Material, under: Ground, state: SurfaceState) -> GoesOver:
    """Say whether a material may go over what lies below in its state.

    Parameters
    ----------
    over : str
        The material that is to go on.
    under : str
        The material that lies below.
    state : str
        The state of what lies below.

    Raises
    ------
    TradeError
        When a name is not known, or what lies below cannot be in that state.

    Source
    ------
    See the head of the module.
    """
    if over not in MATERIALS:
        raise TradeError("over", f"must be one of {', '.join(MATERIALS)}")
    if under not in GROUNDS:
        raise TradeError("under", f"must be one of {', '.join(GROUNDS)}")
    if state not in STATES:
        raise TradeError("state", f"must be one of {', '.join(STATES)}")
    if not can_be(under, state):
        raise TradeError("state", f"{under} cannot be {state}")
    fits = [row for row in ROWS if over in row.over and under in row.under and state in row.states]
    if not fits:
        return NOT_IN_TABLE
    strictest = max((row.verdict for row in fits), key=VERDICTS.index)
    rows = [row for row in fits if row.verdict == strictest]
    first = max(rows, key=lambda row: len(row.mends))
    return GoesOver(
        verdict=strictest,
        mends=first.mends,
        or_else=next((row.or_else for row in rows if row.or_else), ()),
        reasons=tuple(_reason(row) for row in rows),
    )


def can_be(under: Ground, state: SurfaceState) -> bool:
    """Say whether what lies below can be in that state at all."""
    if under in BARE:
        return state not in ONLY_COATS
    return state != "bare" and not (under in OLD and state in UNCURED)


def material_of(product_class: str, compatibility: str | None = None) -> Material | None:
    """Give a product's material: what its profile says, else what its class is made of."""
    if compatibility is not None:
        return next((one for one in MATERIALS if one == compatibility), None)
    return MATERIAL_OF_CLASS.get(product_class)


def may_be_thinned(over: Material, thinner: Thinner) -> GoesOver:
    """Say whether a thinner may go into a material.

    Source
    ------
    Acetone slows the cure of resin and gelcoat and leaves a dull patch: composites trade association
    magazine, Repair best practices, 2015; for epoxy and white spirit: common practice, no source.
    """
    if over not in MATERIALS:
        raise TradeError("over", f"must be one of {', '.join(MATERIALS)}")
    if thinner not in THINNERS:
        raise TradeError("thinner", f"must be one of {', '.join(THINNERS)}")
    if thinner == "makers_thinner":
        only = Reason("thin_by_sheet", "common practice, no source", "common_practice", "")
        return GoesOver("only_if", (), (), (only,))
    if thinner == "acetone" and over in STYRENE:
        said = "composites trade association magazine, Repair best practices, 2015"
        return GoesOver("no", ("other_product",), (), (Reason("acetone", said, "published", ""),))
    if thinner == "white_spirit" and over == "one_part":
        only = Reason("thin_by_sheet", "common practice, no source", "common_practice", "")
        return GoesOver("only_if", (), (), (only,))
    why = Reason("foreign_thinner", "common practice, no source", "common_practice", "")
    return GoesOver("no", ("other_product",), (), (why,))


def _reason(row: Row) -> Reason:
    status: Status = row.status
    return Reason(row.id, row.source, status, row.contested)
