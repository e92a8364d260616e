/**
 * What may go over what, the table row by row: the twin of the server's `trade.compatibility_table`, which tells what
 * each state means. Of all rows that fit, the strictest verdict counts.
 *
 * Source: named in each row.
 */

export const MATERIALS = [
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
] as const;
export const GROUNDS = [
  ...MATERIALS,
  "bare_aluminium",
  "bare_steel",
  "bare_wood",
  "bare_laminate",
  "old_unknown",
  "old_tested",
] as const;
export const STATES = [
  "tacky",
  "green",
  "glossy",
  "washed",
  "keyed",
  "keyed_unwashed",
  "waxed",
  "contaminated",
  "bare",
] as const;

export type Material = (typeof MATERIALS)[number];
export type Ground = (typeof GROUNDS)[number];
export type SurfaceState = (typeof STATES)[number];
export type Verdict = "yes" | "only_if" | "no";
export type Mend =
  | "wait"
  | "clean"
  | "sand"
  | "tack_coat"
  | "prime"
  | "strip"
  | "test_patch"
  | "other_product";
export type Status = "published" | "common_practice" | "from_memory";

export const VERDICTS: readonly Verdict[] = ["yes", "only_if", "no"];

export interface Row {
  readonly id: string;
  readonly over: readonly Ground[];
  readonly under: readonly Ground[];
  readonly states: readonly SurfaceState[];
  readonly verdict: Verdict;
  readonly mends: readonly Mend[];
  readonly source: string;
  readonly status: Status;
  readonly or_else: readonly Mend[];
  readonly contested: string;
}

export const EPOXY: readonly Ground[] = ["epoxy_resin", "epoxy_paint"];
export const STYRENE: readonly Ground[] = ["polyester", "polyester_waxed", "vinylester", "gelcoat"];
export const COPPER: readonly Ground[] = ["antifouling_hard", "antifouling_soft"];
export const ANTIFOULING: readonly Ground[] = either(COPPER, ["antifouling_copper_free"]);
export const SEALANTS: readonly Ground[] = ["sealant", "silicone"];
export const RUBBERY: readonly Ground[] = ["flexible", "sealant"];
export const ENAMEL: readonly Ground[] = ["one_part"];
export const URETHANE: readonly Ground[] = ["polyurethane"];
export const MEMBRANE: readonly Ground[] = ["flexible"];
export const RIGID: readonly Ground[] = either(EPOXY, STYRENE, URETHANE, ENAMEL);
export const THERMOSET: readonly Ground[] = either(EPOXY, STYRENE, URETHANE);
export const COATS: readonly Ground[] = either(RIGID, ANTIFOULING, MEMBRANE);
export const ANY: readonly Ground[] = either(COATS, SEALANTS);
export const DRYING: readonly Ground[] = either(ENAMEL, ANTIFOULING);
export const METAL: readonly Ground[] = ["bare_aluminium", "bare_steel"];
export const BARE: readonly Ground[] = either(METAL, ["bare_wood", "bare_laminate"]);
export const OLD: readonly Ground[] = ["old_unknown", "old_tested"];
export const UNCURED: readonly SurfaceState[] = ["tacky", "green"];
export const SMOOTH: readonly SurfaceState[] = ["glossy", "washed"];
const ALL_STATES = STATES;
const HANDBOOK = "MIL-HDBK-1110 (1995) = UFC 3-190-06 (2004)";
const PRACTICE = "common practice, no source";
const NAVY = "NAVFAC MO-124; TB 43-0144, tack coat of 1 to 2 mil wet, 4 h";
const MAGAZINE = "Soundings magazine, Repairing Composites";
export const SILICONE: readonly Ground[] = ["silicone"];
export const ALUMINIUM: readonly Ground[] = ["bare_aluminium"];
export const STEEL: readonly Ground[] = ["bare_steel"];
export const WOOD: readonly Ground[] = ["bare_wood"];
export const LAMINATE: readonly Ground[] = ["bare_laminate"];
export const RESIN: readonly Ground[] = ["epoxy_resin"];
export const PAINT: readonly Ground[] = ["epoxy_paint"];
export const UNKNOWN: readonly Ground[] = ["old_unknown"];
export const TESTED: readonly Ground[] = ["old_tested"];
export const HARD: readonly Ground[] = ["antifouling_hard"];
export const SOFT: readonly Ground[] = ["antifouling_soft"];
export const READY: readonly SurfaceState[] = ["bare", "keyed"];
export const GLOSSY: readonly SurfaceState[] = ["glossy"];
export const WASHED: readonly SurfaceState[] = ["washed"];
export const KEYED: readonly SurfaceState[] = ["keyed"];
export const UNWASHED: readonly SurfaceState[] = ["keyed_unwashed"];
export const TACKY: readonly SurfaceState[] = ["tacky"];
export const GREEN: readonly SurfaceState[] = ["green"];
export const DIRTY: readonly SurfaceState[] = ["contaminated"];
export const WAXED: readonly SurfaceState[] = ["waxed"];
export const NEEDS_KEY: readonly Ground[] = either(ANTIFOULING, EPOXY, URETHANE);

export const ROWS: readonly Row[] = [
  row(
    "contaminated",
    ANY,
    GROUNDS,
    DIRTY,
    "no",
    ["clean", "sand"],
    `${HANDBOOK} 11.4.2.1, 11.4.2.3: crawling and peeling on contaminated surfaces`,
  ),
  row("silicone_below", ANY, SILICONE, ALL_STATES, "no", ["strip", "clean", "sand"]),
  row(
    "polyester_on_epoxy",
    STYRENE,
    EPOXY,
    ALL_STATES,
    "no",
    ["other_product"],
    `${PRACTICE}; ${MAGAZINE}: epoxy on epoxy boats`,
    [],
    "trade articles report a bond on fully cured, washed and ground epoxy",
  ),
  row(
    "copper_on_aluminium",
    COPPER,
    ALUMINIUM,
    ALL_STATES,
    "no",
    ["prime"],
    PRACTICE,
    [],
    "Bagley et al., Ocean Engineering 109 (2015) 595-602: no effect found under a coat",
  ),
  row("copper_on_steel", COPPER, STEEL, ALL_STATES, "no", ["prime"]),
  row(
    "rigid_on_flexible",
    RIGID,
    RUBBERY,
    ALL_STATES,
    "no",
    ["strip"],
    `${HANDBOOK} 2.4.3, 6.2.1: a rigid coat over a flexible one checks`,
  ),
  row(
    "strong_on_one_part",
    either(EPOXY, URETHANE),
    ENAMEL,
    ALL_STATES,
    "no",
    ["strip"],
    `${HANDBOOK} 2.4, 2.4.2: strong solvents lift coats that dissolve`,
  ),
  row("styrene_on_paint", STYRENE, either(ENAMEL, URETHANE), ALL_STATES, "no", ["strip"]),
  row("paint_on_antifouling", without(ANY, ANTIFOULING), ANTIFOULING, ALL_STATES, "no", ["strip"]),
  row("hard_on_soft", HARD, SOFT, ALL_STATES, "no", ["strip"]),
  row("antifouling_on_enamel", ANTIFOULING, ENAMEL, ALL_STATES, "no", ["strip"]),
  row("polyester_on_bare", STYRENE, either(METAL, WOOD), ALL_STATES, "no", ["other_product"]),
  row("wax_below", ANY, GROUNDS, WAXED, "only_if", ["clean", "sand"]),
  row("blush", ANY, RESIN, either(GLOSSY, UNWASHED), "only_if", ["clean", "sand"]),
  row(
    "thermoset_cured",
    COATS,
    THERMOSET,
    SMOOTH,
    "only_if",
    ["sand"],
    `${HANDBOOK} 2.2.3b, 11.4.2.3: sand the gloss off; UFGS-09971, gloss removal`,
  ),
  row("dust_left", COATS, either(without(THERMOSET, RESIN), ENAMEL, TESTED), UNWASHED, "only_if", [
    "clean",
  ]),
  row(
    "epoxy_past_window",
    NEEDS_KEY,
    PAINT,
    SMOOTH,
    "only_if",
    ["sand"],
    `${HANDBOOK} 2.3.4; ${NAVY}`,
    ["tack_coat"],
  ),
  row(
    "solvent_trapped",
    ANY,
    DRYING,
    TACKY,
    "only_if",
    ["wait"],
    `${HANDBOOK} 11.4.2.4: trapped solvent blisters`,
  ),
  row("uncured_polyester", without(ANY, STYRENE), STYRENE, UNCURED, "only_if", ["wait", "sand"]),
  row("uncured_amine", either(URETHANE, ENAMEL, MEMBRANE), RESIN, UNCURED, "only_if", [
    "wait",
    "clean",
    "sand",
  ]),
  row(
    "uncured_under_enamel",
    either(ENAMEL, MEMBRANE),
    either(PAINT, URETHANE),
    UNCURED,
    "only_if",
    ["wait", "sand"],
  ),
  row("uncured_urethane", either(EPOXY, ANTIFOULING), URETHANE, UNCURED, "only_if", [
    "wait",
    "sand",
  ]),
  row(
    "antifouling_late",
    ANTIFOULING,
    EPOXY,
    GREEN,
    "only_if",
    ["tack_coat"],
    `${NAVY}: while the epoxy is still tacky, else after a tack coat`,
  ),
  row(
    "enamel_cured",
    COATS,
    ENAMEL,
    SMOOTH,
    "only_if",
    ["sand"],
    `${PRACTICE}; ${HANDBOOK} 2.4.4 on smooth cured enamel`,
  ),
  row("old_antifouling", ANTIFOULING, ANTIFOULING, either(GLOSSY, UNWASHED), "only_if", ["clean"]),
  row("sealant_uncured_below", SEALANTS, either(THERMOSET, ENAMEL), UNCURED, "only_if", [
    "wait",
    "clean",
  ]),
  row(
    "sealant_dirty_below",
    SEALANTS,
    either(THERMOSET, ENAMEL, BARE),
    either(GLOSSY, UNWASHED),
    "only_if",
    ["clean"],
  ),
  row("sealant_on_rubber", either(SEALANTS, MEMBRANE), ["sealant"], ALL_STATES, "only_if", [
    "strip",
  ]),
  row("antifouling_on_rubber", ANTIFOULING, RUBBERY, ALL_STATES, "only_if", ["strip"]),
  row("bare_untouched", COATS, BARE, either(GLOSSY, UNWASHED), "only_if", ["clean", "sand"]),
  row("bare_unkeyed", COATS, BARE, WASHED, "only_if", ["sand"]),
  row(
    "metal_unprimed",
    either(URETHANE, ENAMEL, MEMBRANE, ANTIFOULING),
    METAL,
    ALL_STATES,
    "only_if",
    ["prime"],
  ),
  row("wood_unprimed", either(URETHANE, ANTIFOULING), WOOD, ALL_STATES, "only_if", ["prime"]),
  row("laminate_unprimed", either(URETHANE, ENAMEL, ANTIFOULING), LAMINATE, ALL_STATES, "only_if", [
    "prime",
  ]),
  row(
    "unknown_below",
    ANY,
    UNKNOWN,
    ALL_STATES,
    "only_if",
    ["test_patch"],
    `${HANDBOOK} 4.2.4: try a patch, or rub with solvent`,
  ),
  row("tested_unkeyed", COATS, TESTED, SMOOTH, "only_if", ["clean", "sand"], `${HANDBOOK} 2.2.3b`),
  row(
    "flexible_unkeyed",
    either(MEMBRANE, SEALANTS),
    MEMBRANE,
    either(GLOSSY, UNWASHED),
    "only_if",
    ["clean"],
  ),
  row("sealant_on_uncured_membrane", SEALANTS, MEMBRANE, UNCURED, "only_if", ["wait"]),
  row("sealant_on_tested_dirty", SEALANTS, TESTED, either(GLOSSY, UNWASHED), "only_if", ["clean"]),
  row(
    "same_kind",
    EPOXY,
    EPOXY,
    either(UNCURED, KEYED),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "same_kind",
    STYRENE,
    either(STYRENE, LAMINATE),
    either(UNCURED, READY),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "same_kind",
    URETHANE,
    URETHANE,
    either(UNCURED, KEYED),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "same_kind",
    ENAMEL,
    ENAMEL,
    either(GREEN, KEYED),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "same_kind",
    ANTIFOULING,
    ANTIFOULING,
    either(GREEN, KEYED, WASHED),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "same_kind",
    MEMBRANE,
    MEMBRANE,
    either(UNCURED, KEYED, WASHED),
    "yes",
    [],
    `${HANDBOOK} 4.2.4: same generic type or curing mechanism`,
  ),
  row(
    "pu_on_epoxy",
    URETHANE,
    PAINT,
    either(UNCURED, KEYED),
    "yes",
    [],
    `${HANDBOOK} 2.3.4a: polyurethane is the weather coat over epoxy`,
  ),
  row(
    "antifouling_on_tacky_epoxy",
    ANTIFOULING,
    EPOXY,
    TACKY,
    "yes",
    [],
    `${NAVY}: while the epoxy is still tacky`,
  ),
  row(
    "epoxy_on_polyester",
    EPOXY,
    either(STYRENE, LAMINATE),
    READY,
    "yes",
    [],
    `${MAGAZINE}: epoxy bonds to all laminates`,
  ),
  row(
    "keyed_thermoset",
    without(COATS, STYRENE),
    THERMOSET,
    KEYED,
    "yes",
    [],
    `${HANDBOOK} 2.2.3b: once the gloss is sanded off`,
  ),
  row("epoxy_on_bare", EPOXY, either(METAL, WOOD), READY, "yes"),
  row("enamel_on_wood", either(ENAMEL, MEMBRANE), WOOD, READY, "yes"),
  row("membrane_on_laminate", MEMBRANE, LAMINATE, READY, "yes"),
  row("membrane_on_enamel", MEMBRANE, ENAMEL, either(GREEN, KEYED), "yes"),
  row("sealant_on_clean", SEALANTS, either(THERMOSET, ENAMEL, BARE), either(READY, WASHED), "yes"),
  row("sealant_on_membrane", SEALANTS, MEMBRANE, either(KEYED, WASHED), "yes"),
  row("tested_keyed", COATS, TESTED, KEYED, "yes", [], `${HANDBOOK} 4.2.4: after a sound patch`),
  row("sealant_on_tested", SEALANTS, TESTED, either(KEYED, WASHED), "yes"),
];

function row(
  id: string,
  over: readonly Ground[],
  under: readonly Ground[],
  states: readonly SurfaceState[],
  verdict: Verdict,
  mends: readonly Mend[] = [],
  source: string = PRACTICE,
  or_else: readonly Mend[] = [],
  contested = "",
): Row {
  const status: Status = source.startsWith(PRACTICE) ? "common_practice" : "published";
  return { id, over, under, states, verdict, mends, source, status, or_else, contested };
}

function either<T>(...groups: readonly (readonly T[])[]): readonly T[] {
  return [...new Set(groups.flat())];
}

function without(group: readonly Ground[], other: readonly Ground[]): readonly Ground[] {
  return group.filter((one) => !other.includes(one));
}
