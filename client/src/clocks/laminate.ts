/**
 * Glass and resin of a laminate: the twin of the server's `trade.laminate`.
 *
 * Theory: a ply with w kg/m2 of glass and a glass content psi holds w (1 - psi) / psi of resin; without voids it is
 * as thick as both volumes. With the densities 2.56 and 1.2 that is w / 3.072 * (2.56 / psi - 1.36).
 *
 * Rules
 * - A ply without a glass content takes the typical one of its kind, and says so.
 * - Lost resin is a share of what is mixed, and a fixed mass for every tool.
 *
 * Source: ISO 12215-5, quoted from memory; lost shares are common practice, no source. First mat at most 450 g/m2,
 * 48 h at 18 degC, both advice: rules of a classification society for GRP craft, production procedures 3.2.3, 3.2.7.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";

export type PlyKind = "mat" | "cloth" | "woven" | "stitched" | "stitched_mat";

export const GLASS_KG_L = 2.56;
export const RESIN_KG_L = 1.2;
export const WASTE_PCT = 15;
export const WASTE_MAX_PCT = 80;
export const FIBRE_MAX_KG_M2 = 20;
export const AREA_MAX_M2 = 100_000;
export const PLIES_MAX_N = 200;
export const MASS_MAX_KG = 1000;
export const FIRST_MAT_MAX_KG_M2 = 0.45;
export const CURE_H = 48;
export const CURE_MIN_C = 18;

export const TYPICAL_GLASS_PCT: Readonly<Record<PlyKind, number>> = {
  mat: 30,
  cloth: 45,
  woven: 48,
  stitched: 50,
  stitched_mat: 42,
};

export interface Ply {
  readonly kind: PlyKind;
  readonly fibre_kg_m2: number;
  readonly glass_pct: number | null;
}

export interface PlyLaid {
  readonly kind: PlyKind;
  readonly thickness_mm: number;
  readonly fibre_kg_m2: number;
  readonly resin_kg_m2: number;
  readonly mass_kg_m2: number;
  readonly glass_pct: number;
  readonly fibre_volume_pct: number;
  readonly density_kg_l: number;
  readonly basis: "given" | "typical";
}

export interface Waste {
  readonly pct: number;
  readonly tools_n: number;
  readonly tool_kg: number;
}

export const USUAL_WASTE: Waste = { pct: WASTE_PCT, tools_n: 0, tool_kg: 0 };

export interface Laminate {
  readonly plies: readonly PlyLaid[];
  readonly thickness_mm: number;
  readonly fibre_kg_m2: number;
  readonly resin_kg_m2: number;
  readonly mass_kg_m2: number;
  readonly glass_pct: number;
  readonly fibre_kg: number;
  readonly resin_laid_kg: number;
  readonly resin_mixed_kg: number;
  readonly mass_kg: number;
  readonly typical: boolean;
  readonly cure_h: number;
  readonly cure_min_c: number;
  readonly notes: readonly string[];
}

/** Give thickness, resin and mass of one wetted ply. */
export function plyLaid(ply: Ply, fibre_kg_l = GLASS_KG_L, resin_kg_l = RESIN_KG_L): PlyLaid {
  if (!Object.hasOwn(TYPICAL_GLASS_PCT, ply.kind)) {
    throw new TradeError("kind", `must be one of ${Object.keys(TYPICAL_GLASS_PCT).join(", ")}`);
  }
  const fibre = within(ply.fibre_kg_m2, "fibre_kg_m2", 0.001, FIBRE_MAX_KG_M2);
  const given = ply.glass_pct ?? TYPICAL_GLASS_PCT[ply.kind];
  const content = within(given, "glass_pct", 5, 90) / 100;
  const rhoF = within(fibre_kg_l, "fibre_kg_l", 0.5, 20);
  const rhoR = within(resin_kg_l, "resin_kg_l", 0.5, 5);
  const resin = (fibre * (1 - content)) / content;
  const thickness_mm = fibre / rhoF + resin / rhoR;
  return {
    kind: ply.kind,
    thickness_mm,
    fibre_kg_m2: fibre,
    resin_kg_m2: resin,
    mass_kg_m2: fibre + resin,
    glass_pct: given,
    fibre_volume_pct: (100 * fibre) / rhoF / thickness_mm,
    density_kg_l: (fibre + resin) / thickness_mm,
    basis: ply.glass_pct === null ? "typical" : "given",
  };
}

/** Add up a schedule of plies on an area. */
export function laminate(
  plies: readonly Ply[],
  area_m2: number,
  waste: Waste = USUAL_WASTE,
  fibre_kg_l = GLASS_KG_L,
  resin_kg_l = RESIN_KG_L,
  on_gelcoat = false,
): Laminate {
  if (!(plies.length >= 1 && plies.length <= PLIES_MAX_N)) {
    throw new TradeError("plies", `a laminate has 1 to ${PLIES_MAX_N} plies`);
  }
  const area = within(area_m2, "area_m2", 0, AREA_MAX_M2);
  const laid = plies.map((ply, i) => nthLaid(i, ply, fibre_kg_l, resin_kg_l));
  const fibre = total(laid.map((ply) => ply.fibre_kg_m2));
  const resin = total(laid.map((ply) => ply.resin_kg_m2));
  return {
    plies: laid,
    thickness_mm: total(laid.map((ply) => ply.thickness_mm)),
    fibre_kg_m2: fibre,
    resin_kg_m2: resin,
    mass_kg_m2: fibre + resin,
    glass_pct: (100 * fibre) / (fibre + resin),
    fibre_kg: fibre * area,
    resin_laid_kg: resin * area,
    resin_mixed_kg: mixedKg(resin * area, waste),
    mass_kg: (fibre + resin) * area,
    typical: laid.some((ply) => ply.basis === "typical"),
    cure_h: CURE_H,
    cure_min_c: CURE_MIN_C,
    notes: on_gelcoat && laid.findIndex(heavy) === 0 ? ["first_mat_too_heavy"] : [],
  };
}

/** Give what must be mixed so that a mass of resin reaches the work. */
export function mixedKg(laid_kg: number, waste: Waste = USUAL_WASTE): number {
  const share = within(waste.pct, "waste.pct", 0, WASTE_MAX_PCT) / 100;
  const toolsN = whole(within(waste.tools_n, "waste.tools_n", 0, 1000), "waste.tools_n");
  const toolKg = within(waste.tool_kg, "waste.tool_kg", 0, MASS_MAX_KG);
  return laid_kg / (1 - share) + toolsN * toolKg;
}

/** Give the value when it is a number in the range. */
export function within(value: number, field: string, low: number, high: number): number {
  if (typeof value === "number" && value >= low && value <= high) return value;
  throw new OutOfRangeError(field, `must be a number in ${low} to ${high}`);
}

/** Give the value when it is a whole number. */
export function whole(value: number, field: string): number {
  if (Number.isInteger(value)) return value;
  throw new OutOfRangeError(field, "must be a whole number");
}

export function total(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0);
}

function heavy({ kind, fibre_kg_m2 }: PlyLaid): boolean {
  return kind === "mat" && fibre_kg_m2 > FIRST_MAT_MAX_KG_M2 * (1 + 1e-9);
}

function nthLaid(i: number, ply: Ply, fibreKgL: number, resinKgL: number): PlyLaid {
  try {
    return plyLaid(ply, fibreKgL, resinKgL);
  } catch (error) {
    if (!(error instanceof TradeError) || /_kg_l$/.test(error.field)) throw error;
    throw new TradeError(`plies[${i}].${error.field}`, error.message);
  }
}
