/**
 * What a missed recoat window asks for: the twin of the server's `trade.missed_window`.
 *
 * Rules
 * - What is to be done comes from the table, for the next coat on a cured one; after sanding the dust is wiped off.
 * - Where the profile gives no minutes the labour is unknown, never nothing.
 */

import { goesOver } from "./compatibility.ts";
import type { Material } from "./compatibility_table.ts";
import { type ProposedStep, stepsOf } from "./job_order.ts";
import { AREA_MAX_M2, total, within } from "./laminate.ts";

export const CLEAN_MINUTES_PER_M2 = 2;
const MINUTES_PER_M2_MAX = 1440;

export interface MissedWindow {
  readonly steps: readonly ProposedStep[];
  readonly or_else: readonly ProposedStep[];
  readonly labour_h: number | null;
}

/** Give what a missed window asks for. */
export function missedWindow(
  under: Material,
  area_m2: number | null = null,
  sand_minutes_per_m2: number | null = null,
  over: Material | null = null,
  clean_minutes_per_m2 = CLEAN_MINUTES_PER_M2,
): MissedWindow {
  if (area_m2 !== null) within(area_m2, "area_m2", 0, AREA_MAX_M2);
  if (sand_minutes_per_m2 !== null) {
    within(sand_minutes_per_m2, "sand_minutes_per_m2", 0, MINUTES_PER_M2_MAX);
  }
  within(clean_minutes_per_m2, "clean_minutes_per_m2", 0, MINUTES_PER_M2_MAX);
  const state = under === "polyester_waxed" ? "waxed" : "glossy";
  const answer = goesOver(over ?? under, under, state);
  const steps = stepsOf(answer.mends);
  if (["sand", "grind"].includes(steps.at(-1)?.kind ?? "")) steps.push(...stepsOf(["clean"]));
  const rates: Record<string, number | null> = {
    sand: sand_minutes_per_m2,
    clean: clean_minutes_per_m2,
  };
  const told = steps.map((one) => ({ ...one, labour_h: labour(rates[one.kind] ?? null, area_m2) }));
  const known = told.map((one) => one.labour_h).filter((hours) => hours !== null);
  return {
    steps: told,
    or_else: stepsOf(answer.or_else, under === "epoxy_paint" ? "epoxy_paint" : "epoxy_resin"),
    labour_h: known.length === told.length ? total(known) : null,
  };
}

function labour(minutesPerM2: number | null, areaM2: number | null): number | null {
  return minutesPerM2 === null || areaM2 === null ? null : (minutesPerM2 * areaM2) / 60;
}
