"""What may go over what: the table, row by row, each with its source.

Rules
-----
* A row speaks of materials that go over, of materials that lie below, and of the states in which
  they lie. Of all rows that fit, the strictest verdict counts.
* `mends` are done one after the other before the next coat; `or_else` is another way.
* `other_product` has no step: nothing done to the surface helps.

States of what lies below: `tacky` sticks to the finger, within its window; `green` is dry to the
touch and still within its window; `glossy` is cured or past its window, and nobody has touched it;
`washed` is the same, washed and wiped; `keyed` is washed, ground dull and free of dust;
`keyed_unwashed` was ground before its blush was washed off, or has dust on it; `waxed` cured with wax on its face;
`contaminated` has silicone, sealant, oil, salt or polish on it; `bare` is a clean, freshly abraded
material without any coat.

Source
------
Named in each row. HANDBOOK is MIL-HDBK-1110 (1995), adopted as UFC 3-190-06 (2004), public release.
"""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Final, Literal, get_args

Material = Literal[
    "epoxy_resin",
    "epoxy_paint",
    "polyester",
    "polyester_waxed",
    "vinylester",
    "gelcoat",
    "polyurethane",
    "one_part",
    "antifouling_hard",
    "antifouling_soft",
    "antifouling_copper_free",
    "sealant",
    "silicone",
    "flexible",
]
Ground = Literal[
    "epoxy_resin",
    "epoxy_paint",
    "polyester",
    "polyester_waxed",
    "vinylester",
    "gelcoat",
    "polyurethane",
    "one_part",
    "antifouling_hard",
    "antifouling_soft",
    "antifouling_copper_free",
    "sealant",
    "silicone",
    "flexible",
    "bare_aluminium",
    "bare_steel",
    "bare_wood",
    "bare_laminate",
    "old_unknown",
    "old_tested",
]
SurfaceState = Literal[
    "tacky",
    "green",
    "glossy",
    "washed",
    "keyed",
    "keyed_unwashed",
    "waxed",
    "contaminated",
    "bare",
]
Verdict = Literal["yes", "only_if", "no"]
Mend = Literal[
    "wait", "clean", "sand", "tack_coat", "prime", "strip", "test_patch", "other_product"
]
Status = Literal["published", "common_practice", "from_memory"]

MATERIALS: Final[tuple[Material, ...]] = get_args(Material)
GROUNDS: Final[tuple[Ground, ...]] = get_args(Ground)
STATES: Final[tuple[SurfaceState, ...]] = get_args(SurfaceState)
VERDICTS: Final[tuple[Verdict, ...]] = ("yes", "only_if", "no")

EPOXY: Final = frozenset({"epoxy_resin", "epoxy_paint"})
STYRENE: Final = frozenset({"polyester", "polyester_waxed", "vinylester", "gelcoat"})
COPPER: Final = frozenset({"antifouling_hard", "antifouling_soft"})
ANTIFOULING: Final = COPPER | {"antifouling_copper_free"}
SEALANTS: Final = frozenset({"sealant", "silicone"})
RUBBERY: Final = frozenset({"flexible", "sealant"})
ENAMEL: Final = frozenset({"one_part"})
URETHANE: Final = frozenset({"polyurethane"})
MEMBRANE: Final = frozenset({"flexible"})
RIGID: Final = EPOXY | STYRENE | URETHANE | ENAMEL
THERMOSET: Final = EPOXY | STYRENE | URETHANE
COATS: Final = RIGID | ANTIFOULING | MEMBRANE
ANY: Final = COATS | SEALANTS
DRYING: Final = ENAMEL | ANTIFOULING
METAL: Final = frozenset({"bare_aluminium", "bare_steel"})
BARE: Final = METAL | {"bare_wood", "bare_laminate"}
OLD: Final = frozenset({"old_unknown", "old_tested"})
UNCURED: Final = frozenset({"tacky", "green"})
SMOOTH: Final = frozenset({"glossy", "washed"})
ALL_STATES: Final = frozenset(STATES)

HANDBOOK: Final = "MIL-HDBK-1110 (1995) = UFC 3-190-06 (2004)"
PRACTICE: Final = "common practice, no source"
NAVY: Final = "NAVFAC MO-124; TB 43-0144, tack coat of 1 to 2 mil wet, 4 h"
MAGAZINE: Final = "Soundings magazine, Repairing Composites"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table."""

    id: str
    over: AbstractSet[str]
    under: AbstractSet[str]
    states: AbstractSet[str]
    verdict: Verdict
    mends: tuple[Mend, ...]
    source: str
    status: Status
    or_else: tuple[Mend, ...] = ()
    contested: str = ""


def _row(
    id_: str,
    over: AbstractSet[str],
    under: AbstractSet[str],
    states: AbstractSet[str],
    verdict: Verdict,
    mends: tuple[Mend, ...] = (),
    source: str = PRACTICE,
    or_else: tuple[Mend, ...] = (),
    contested: str = "",
) -> Row:
    status: Status = "common_practice" if source.startswith(PRACTICE) else "published"
    return Row(id_, over, under, states, verdict, mends, source, status, or_else, contested)


SILICONE: Final = frozenset({"silicone"})
ALUMINIUM: Final = frozenset({"bare_aluminium"})
STEEL: Final = frozenset({"bare_steel"})
WOOD: Final = frozenset({"bare_wood"})
LAMINATE: Final = frozenset({"bare_laminate"})
RESIN: Final = frozenset({"epoxy_resin"})
PAINT: Final = frozenset({"epoxy_paint"})
UNKNOWN: Final = frozenset({"old_unknown"})
TESTED: Final = frozenset({"old_tested"})
HARD: Final = frozenset({"antifouling_hard"})
SOFT: Final = frozenset({"antifouling_soft"})
READY: Final = frozenset({"bare", "keyed"})
GLOSSY: Final = frozenset({"glossy"})
WASHED: Final = frozenset({"washed"})
KEYED: Final = frozenset({"keyed"})
UNWASHED: Final = frozenset({"keyed_unwashed"})
TACKY: Final = frozenset({"tacky"})
GREEN: Final = frozenset({"green"})
DIRTY: Final = frozenset({"contaminated"})
WAXED: Final = frozenset({"waxed"})
NEEDS_KEY: Final = ANTIFOULING | EPOXY | URETHANE

ROWS: Final[tuple[Row, ...]] = (
    # What is never right.
    _row("contaminated", ANY, frozenset(GROUNDS), DIRTY, "no", ("clean", "sand"),
         f"{HANDBOOK} 11.4.2.1, 11.4.2.3: crawling and peeling on contaminated surfaces"),
    _row("silicone_below", ANY, SILICONE, ALL_STATES, "no", ("strip", "clean", "sand")),
    _row("polyester_on_epoxy", STYRENE, EPOXY, ALL_STATES, "no", ("other_product",),
         f"{PRACTICE}; {MAGAZINE}: epoxy on epoxy boats",
         contested="trade articles report a bond on fully cured, washed and ground epoxy"),
    _row("copper_on_aluminium", COPPER, ALUMINIUM, ALL_STATES, "no", ("prime",),
         contested="Bagley et al., Ocean Engineering 109 (2015) 595-602: no effect found under a coat"),
    _row("copper_on_steel", COPPER, STEEL, ALL_STATES, "no", ("prime",)),
    _row("rigid_on_flexible", RIGID, RUBBERY, ALL_STATES, "no", ("strip",),
         f"{HANDBOOK} 2.4.3, 6.2.1: a rigid coat over a flexible one checks"),
    _row("strong_on_one_part", EPOXY | URETHANE, ENAMEL, ALL_STATES, "no", ("strip",),
         f"{HANDBOOK} 2.4, 2.4.2: strong solvents lift coats that dissolve"),
    _row("styrene_on_paint", STYRENE, ENAMEL | URETHANE, ALL_STATES, "no", ("strip",)),
    _row("paint_on_antifouling", ANY - ANTIFOULING, ANTIFOULING, ALL_STATES, "no", ("strip",)),
    _row("hard_on_soft", HARD, SOFT, ALL_STATES, "no", ("strip",)),
    _row("antifouling_on_enamel", ANTIFOULING, ENAMEL, ALL_STATES, "no", ("strip",)),
    _row("polyester_on_bare", STYRENE, METAL | WOOD, ALL_STATES, "no", ("other_product",)),
    # What lies below is not ready.
    _row("wax_below", ANY, frozenset(GROUNDS), WAXED, "only_if", ("clean", "sand")),
    _row("blush", ANY, RESIN, GLOSSY | UNWASHED, "only_if", ("clean", "sand")),
    _row("thermoset_cured", COATS, THERMOSET, SMOOTH, "only_if", ("sand",),
         f"{HANDBOOK} 2.2.3b, 11.4.2.3: sand the gloss off; UFGS-09971, gloss removal"),
    _row("dust_left", COATS, (THERMOSET - RESIN) | ENAMEL | TESTED, UNWASHED, "only_if", ("clean",)),
    _row("epoxy_past_window", NEEDS_KEY, PAINT, SMOOTH, "only_if", ("sand",),
         f"{HANDBOOK} 2.3.4; {NAVY}", ("tack_coat",)),
    _row("solvent_trapped", ANY, DRYING, TACKY, "only_if", ("wait",),
         f"{HANDBOOK} 11.4.2.4: trapped solvent blisters"),
    _row("uncured_polyester", ANY - STYRENE, STYRENE, UNCURED, "only_if", ("wait", "sand")),
    _row("uncured_amine", URETHANE | ENAMEL | MEMBRANE, RESIN, UNCURED, "only_if",
         ("wait", "clean", "sand")),
    _row("uncured_under_enamel", ENAMEL | MEMBRANE, PAINT | URETHANE, UNCURED, "only_if",
         ("wait", "sand")),
    _row("uncured_urethane", EPOXY | ANTIFOULING, URETHANE, UNCURED, "only_if", ("wait", "sand")),
    _row("antifouling_late", ANTIFOULING, EPOXY, GREEN, "only_if", ("tack_coat",),
         f"{NAVY}: while the epoxy is still tacky, else after a tack coat"),
    _row("enamel_cured", COATS, ENAMEL, SMOOTH, "only_if", ("sand",),
         f"{PRACTICE}; {HANDBOOK} 2.4.4 on smooth cured enamel"),
    _row("old_antifouling", ANTIFOULING, ANTIFOULING, GLOSSY | UNWASHED, "only_if", ("clean",)),
    _row("sealant_uncured_below", SEALANTS, THERMOSET | ENAMEL, UNCURED, "only_if", ("wait", "clean")),
    _row("sealant_dirty_below", SEALANTS, THERMOSET | ENAMEL | BARE, GLOSSY | UNWASHED, "only_if",
         ("clean",)),
    _row("sealant_on_rubber", SEALANTS | MEMBRANE, frozenset({"sealant"}), ALL_STATES, "only_if",
         ("strip",)),
    _row("antifouling_on_rubber", ANTIFOULING, RUBBERY, ALL_STATES, "only_if", ("strip",)),
    _row("bare_untouched", COATS, BARE, GLOSSY | UNWASHED, "only_if", ("clean", "sand")),
    _row("bare_unkeyed", COATS, BARE, WASHED, "only_if", ("sand",)),
    _row("metal_unprimed", URETHANE | ENAMEL | MEMBRANE | ANTIFOULING, METAL, ALL_STATES, "only_if",
         ("prime",)),
    _row("wood_unprimed", URETHANE | ANTIFOULING, WOOD, ALL_STATES, "only_if", ("prime",)),
    _row("laminate_unprimed", URETHANE | ENAMEL | ANTIFOULING, LAMINATE, ALL_STATES, "only_if",
         ("prime",)),
    _row("unknown_below", ANY, UNKNOWN, ALL_STATES, "only_if", ("test_patch",),
         f"{HANDBOOK} 4.2.4: try a patch, or rub with solvent"),
    _row("tested_unkeyed", COATS, TESTED, SMOOTH, "only_if", ("clean", "sand"),
         f"{HANDBOOK} 2.2.3b"),
    _row("flexible_unkeyed", MEMBRANE | SEALANTS, MEMBRANE, GLOSSY | UNWASHED, "only_if", ("clean",)),
    _row("sealant_on_uncured_membrane", SEALANTS, MEMBRANE, UNCURED, "only_if", ("wait",)),
    _row("sealant_on_tested_dirty", SEALANTS, TESTED, GLOSSY | UNWASHED, "only_if", ("clean",)),
    # What is right.
    _row("same_kind", EPOXY, EPOXY, UNCURED | KEYED, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("same_kind", STYRENE, STYRENE | LAMINATE, UNCURED | READY, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("same_kind", URETHANE, URETHANE, UNCURED | KEYED, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("same_kind", ENAMEL, ENAMEL, GREEN | KEYED, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("same_kind", ANTIFOULING, ANTIFOULING, GREEN | KEYED | WASHED, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("same_kind", MEMBRANE, MEMBRANE, UNCURED | KEYED | WASHED, "yes", (),
         f"{HANDBOOK} 4.2.4: same generic type or curing mechanism"),
    _row("pu_on_epoxy", URETHANE, PAINT, UNCURED | KEYED, "yes", (),
         f"{HANDBOOK} 2.3.4a: polyurethane is the weather coat over epoxy"),
    _row("antifouling_on_tacky_epoxy", ANTIFOULING, EPOXY, TACKY, "yes", (),
         f"{NAVY}: while the epoxy is still tacky"),
    _row("epoxy_on_polyester", EPOXY, STYRENE | LAMINATE, READY, "yes", (),
         f"{MAGAZINE}: epoxy bonds to all laminates"),
    _row("keyed_thermoset", COATS - STYRENE, THERMOSET, KEYED, "yes", (),
         f"{HANDBOOK} 2.2.3b: once the gloss is sanded off"),
    _row("epoxy_on_bare", EPOXY, METAL | WOOD, READY, "yes"),
    _row("enamel_on_wood", ENAMEL | MEMBRANE, WOOD, READY, "yes"),
    _row("membrane_on_laminate", MEMBRANE, LAMINATE, READY, "yes"),
    _row("membrane_on_enamel", MEMBRANE, ENAMEL, GREEN | KEYED, "yes"),
    _row("sealant_on_clean", SEALANTS, THERMOSET | ENAMEL | BARE, READY | WASHED, "yes"),
    _row("sealant_on_membrane", SEALANTS, MEMBRANE, KEYED | WASHED, "yes"),
    _row("tested_keyed", COATS, TESTED, KEYED, "yes", (), f"{HANDBOOK} 4.2.4: after a sound patch"),
    _row("sealant_on_tested", SEALANTS, TESTED, KEYED | WASHED, "yes"),
)  # fmt: skip
