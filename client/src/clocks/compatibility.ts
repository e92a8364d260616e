/**
 * What may go over what, one question to the table: the twin of the server's `trade.compatibility`.
 *
 * Rules
 * - Of all rows that fit, the strictest verdict counts, and every row of that verdict is told.
 * - What no row speaks of is `only_if` a test patch holds.
 * - A bare material is not tacky nor an old coat green, and a coat is not bare: refused.
 */

import {
  BARE,
  GROUNDS,
  type Ground,
  MATERIALS,
  type Material,
  type Mend,
  OLD,
  ROWS,
  type Row,
  STATES,
  STYRENE,
  type Status,
  type SurfaceState,
  UNCURED,
  VERDICTS,
  type Verdict,
} from "./compatibility_table.ts";
import { TradeError } from "./errors.ts";
import { nth } from "./lists.ts";

export type Thinner = "acetone" | "white_spirit" | "makers_thinner";
export type Origin = Status | "our_own";

const MATERIAL_OF_CLASS: Readonly<Record<string, Material>> = {
  laminating_epoxy: "epoxy_resin",
  epoxy_fillet: "epoxy_resin",
  epoxy_barrier_primer: "epoxy_paint",
  polyester_laminating: "polyester",
  polyester_waxed: "polyester_waxed",
  vinylester: "vinylester",
  gelcoat: "gelcoat",
  topcoat_two_part_pu: "polyurethane",
  topcoat_one_part: "one_part",
  antifouling_hard: "antifouling_hard",
  antifouling_self_polishing: "antifouling_soft",
  antifouling_copper_free: "antifouling_copper_free",
  sealant: "sealant",
  silicone: "silicone",
};
const ONLY_COATS: readonly SurfaceState[] = ["tacky", "green", "waxed"];
const THINNERS: readonly Thinner[] = ["acetone", "white_spirit", "makers_thinner"];
const PRACTICE = "common practice, no source";

export interface Reason {
  readonly code: string;
  readonly source: string;
  readonly status: Origin;
  readonly contested: string;
}

export interface GoesOver {
  readonly verdict: Verdict;
  readonly mends: readonly Mend[];
  readonly or_else: readonly Mend[];
  readonly reasons: readonly Reason[];
}

/** Say whether a material may go over what lies below in its state. */
export function goesOver(over: Material, under: Ground, state: SurfaceState): GoesOver {
  checked("over", over, MATERIALS);
  checked("under", under, GROUNDS);
  checked("state", state, STATES);
  if (!canBe(under, state)) throw new TradeError("state", `${under} cannot be ${state}`);
  const fits = ROWS.filter(
    (row) => row.over.includes(over) && row.under.includes(under) && row.states.includes(state),
  );
  if (fits.length === 0) {
    return answered("only_if", ["test_patch"], "not_in_table", "our own caution", "our_own");
  }
  const rank = Math.max(...fits.map((row) => VERDICTS.indexOf(row.verdict)));
  const verdict = nth(VERDICTS, rank);
  const rows = fits.filter((row) => row.verdict === verdict);
  const mends = rows.reduce<readonly Mend[]>(
    (longest, row) => (row.mends.length > longest.length ? row.mends : longest),
    [],
  );
  const or_else = rows.find((row) => row.or_else.length > 0)?.or_else ?? [];
  return { verdict, mends, or_else, reasons: rows.map(reasonOf) };
}

/** Say whether what lies below can be in that state at all. */
export function canBe(under: Ground, state: SurfaceState): boolean {
  if (BARE.includes(under)) return !ONLY_COATS.includes(state);
  return state !== "bare" && !(OLD.includes(under) && UNCURED.includes(state));
}

/** Give a product's material: what its profile says, else what its class is made of. */
export function materialOf(
  product_class: string,
  compatibility: string | null = null,
): Material | null {
  if (compatibility !== null) return MATERIALS.find((one) => one === compatibility) ?? null;
  return MATERIAL_OF_CLASS[product_class] ?? null;
}

/** Say whether a thinner may go into a material. */
export function mayBeThinned(over: Material, thinner: Thinner): GoesOver {
  checked("over", over, MATERIALS);
  checked("thinner", thinner, THINNERS);
  const own = thinner === "makers_thinner" || (thinner === "white_spirit" && over === "one_part");
  if (own) return answered("only_if", [], "thin_by_sheet", PRACTICE, "common_practice");
  if (thinner === "acetone" && STYRENE.includes(over)) {
    const said = "composites trade association magazine, Repair best practices, 2015";
    return answered("no", ["other_product"], "acetone", said, "published");
  }
  return answered("no", ["other_product"], "foreign_thinner", PRACTICE, "common_practice");
}

function answered(
  verdict: Verdict,
  mends: readonly Mend[],
  code: string,
  source: string,
  status: Origin,
): GoesOver {
  return { verdict, mends, or_else: [], reasons: [{ code, source, status, contested: "" }] };
}

function reasonOf(row: Row): Reason {
  return { code: row.id, source: row.source, status: row.status, contested: row.contested };
}

function checked(field: string, value: string, known: readonly string[]): void {
  if (!known.includes(value)) throw new TradeError(field, `must be one of ${known.join(", ")}`);
}
