/**
 * Taper, patch and overlap, how wide every ply of a repair is: the twin of the server's `trade.scarf`.
 *
 * Theory: a laminate ground away at N to 1 opens by N t on each side; a ply that fills the taper is as wide as the
 * taper at its upper face, d + 2 N h.
 *
 * Rules
 * - Plies are counted from the bottom; one above the laminate's face laps over the ply below it.
 * - What a rule would not like is named, never refused.
 * - The seams of ply k are moved by k staggers.
 *
 * Source: geometry; 12 to 1: Soundings magazine, Repairing Composites; 50 and 100 mm: Iranian Classification Society,
 * rules for FRP ships, hand lay-up 301.
 */

import { TradeError } from "./errors.ts";
import {
  GLASS_KG_L,
  laminate,
  mixedKg,
  PLIES_MAX_N,
  type Ply,
  type PlyLaid,
  RESIN_KG_L,
  total,
  USUAL_WASTE,
  type Waste,
  whole,
  within,
} from "./laminate.ts";
import { nth } from "./lists.ts";

export const RATIO_RULE = 12;
export const OVERLAP_RULE_MM = 50;
export const CENTRES_RULE_MM = 100;
const LENGTH_MAX_MM = 1_000_000;
const STRIPS_MAX_N = 2000;
const SAME_MM = 1e-9;
const MM2_PER_M2 = 1e6;

export interface Taper {
  readonly run_mm: number;
  readonly outer_mm: number;
  readonly ring_mm2: number;
  readonly notes: readonly string[];
}

export interface PatchPly {
  readonly width_mm: number;
  readonly area_m2: number;
  readonly fibre_kg: number;
  readonly resin_kg: number;
  readonly thickness_mm: number;
}

export interface Patch {
  readonly taper: Taper;
  readonly plies: readonly PatchPly[];
  readonly thickness_mm: number;
  readonly fibre_kg: number;
  readonly resin_laid_kg: number;
  readonly resin_mixed_kg: number;
  readonly notes: readonly string[];
}

export interface Strips {
  readonly strips_n: readonly number[];
  readonly seams_mm: readonly (readonly number[])[];
  readonly cloth_m2: number;
  readonly extra_pct: number;
  readonly notes: readonly string[];
}

/** Give the ground ring round a round hole. */
export function taper(hole_mm: number, thickness_mm: number, ratio = RATIO_RULE): Taper {
  const hole = within(hole_mm, "hole_mm", 0, LENGTH_MAX_MM);
  const thickness = within(thickness_mm, "thickness_mm", 0.01, 1000);
  const run_mm = within(ratio, "ratio", 1, 200) * thickness;
  const outer_mm = hole + 2 * run_mm;
  return {
    run_mm,
    outer_mm,
    ring_mm2: (Math.PI / 4) * (outer_mm * outer_mm - hole * hole),
    notes: ratio < RATIO_RULE ? ["ratio_below_rule"] : [],
  };
}

export interface PatchAsked {
  readonly plies: readonly Ply[];
  readonly hole_mm: number;
  readonly thickness_mm: number;
  readonly ratio?: number;
  readonly overlap_mm?: number;
  readonly length_mm?: number | null;
  readonly waste?: Waste;
  readonly fibre_kg_l?: number;
  readonly resin_kg_l?: number;
}

/** Give every ply of a repair round a hole, or along a straight joint of a length. */
export function patch(asked: PatchAsked): Patch {
  const { hole_mm, thickness_mm, ratio = RATIO_RULE } = asked;
  const ground = taper(hole_mm, thickness_mm, ratio);
  const overlap = within(asked.overlap_mm ?? OVERLAP_RULE_MM, "overlap_mm", 0, 10_000);
  const length_mm = asked.length_mm ?? null;
  if (length_mm !== null) within(length_mm, "length_mm", 1, LENGTH_MAX_MM);
  const { fibre_kg_l = GLASS_KG_L, resin_kg_l = RESIN_KG_L } = asked;
  const laid = laminate(asked.plies, 0, USUAL_WASTE, fibre_kg_l, resin_kg_l).plies;
  const plies: PatchPly[] = [];
  let height = 0;
  let width = hole_mm;
  for (const ply of laid) {
    height += ply.thickness_mm;
    if (height <= thickness_mm + SAME_MM) width = hole_mm + 2 * ratio * height;
    else if (width >= ground.outer_mm - SAME_MM) width += 2 * overlap;
    else width = ground.outer_mm;
    plies.push(cut(ply, width, length_mm));
  }
  const notes = [...ground.notes];
  if (height < thickness_mm - SAME_MM) notes.push("thinner_than_laminate");
  if (overlap < OVERLAP_RULE_MM && height > thickness_mm + SAME_MM) {
    notes.push("overlap_below_rule");
  }
  const resin = total(plies.map((ply) => ply.resin_kg));
  return {
    taper: ground,
    plies,
    thickness_mm: height,
    fibre_kg: total(plies.map((ply) => ply.fibre_kg)),
    resin_laid_kg: resin,
    resin_mixed_kg: mixedKg(resin, asked.waste),
    notes,
  };
}

/** Say how strips of a roll cover a width, and where the seams of each ply lie. */
export function strips(
  width_mm: number,
  length_mm: number,
  roll_mm: number,
  plies_n = 1,
  overlap_mm = OVERLAP_RULE_MM,
  stagger_mm = CENTRES_RULE_MM,
): Strips {
  const width = within(width_mm, "width_mm", 1, LENGTH_MAX_MM);
  const length = within(length_mm, "length_mm", 1, LENGTH_MAX_MM);
  const roll = within(roll_mm, "roll_mm", 20, 10_000);
  const n = whole(within(plies_n, "plies_n", 1, PLIES_MAX_N), "plies_n");
  const overlap = within(overlap_mm, "overlap_mm", 0, 10_000);
  if (overlap > roll / 2) {
    throw new TradeError("overlap_mm", "must be at most half of the roll's width");
  }
  const stagger = within(stagger_mm, "stagger_mm", 0, 10_000);
  if (Math.ceil(width / (roll - overlap)) * n > STRIPS_MAX_N) {
    throw new TradeError("roll_mm", "more strips than anybody lays");
  }
  const seams: number[][] = [];
  for (let k = 0; k < n; k += 1) seams.push(seamsOf(width, roll, overlap, stagger * k));
  const cloth = total(seams.map((ply) => (width + overlap * ply.length) * length)) / MM2_PER_M2;
  const bare = (width * length * n) / MM2_PER_M2;
  const notes = overlap < OVERLAP_RULE_MM ? ["overlap_below_rule"] : [];
  if (n > 1 && nearest(seams) < CENTRES_RULE_MM - SAME_MM) notes.push("seams_too_near");
  return {
    strips_n: seams.map((ply) => ply.length + 1),
    seams_mm: seams,
    cloth_m2: cloth,
    extra_pct: 100 * (cloth / bare - 1),
    notes,
  };
}

function cut(ply: PlyLaid, width_mm: number, lengthMm: number | null): PatchPly {
  const face = lengthMm === null ? (Math.PI / 4) * width_mm * width_mm : width_mm * lengthMm;
  const area_m2 = face / MM2_PER_M2;
  return {
    width_mm,
    area_m2,
    fibre_kg: ply.fibre_kg_m2 * area_m2,
    resin_kg: ply.resin_kg_m2 * area_m2,
    thickness_mm: ply.thickness_mm,
  };
}

function seamsOf(width: number, roll: number, overlap: number, shift: number): number[] {
  const pitch = roll - overlap;
  const found: number[] = [];
  for (let at = pitch - (shift % pitch); at + overlap < width - SAME_MM; at += pitch) {
    found.push(at);
  }
  return found;
}

function nearest(seams: readonly (readonly number[])[]): number {
  let least = Number.POSITIVE_INFINITY;
  for (let k = 1; k < seams.length; k += 1) {
    for (const one of nth(seams, k - 1)) {
      for (const other of nth(seams, k)) least = Math.min(least, Math.abs(one - other));
    }
  }
  return least;
}
