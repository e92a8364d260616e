/**
 * Whether a surface is far enough above the dew point: the twin of the server's `trade.surface`,
 * which gives theory, rules and sources.
 */

import { dewPointC } from "./air.ts";

export const RULE_3K = 3;
export const RULE_5F_K = 5 / 1.8;
const EDGE_K = 1e-9;
const PAINT_MIN_C = (45 - 32) / 1.8;
const PAINT_MAX_C = (90 - 32) / 1.8;
const NEVER_BELOW_C = (40 - 32) / 1.8;

export interface Margin {
  readonly dew_point_c: number;
  readonly margin_k: number;
}

/** Give the dew point and the margin of the surface above it. */
export function marginOf(surface_c: number, air_c: number, rh_pct: number): Margin {
  return marginHeld(surface_c, dewPointC(air_c, rh_pct));
}

/** Give the margin of a surface when the dew point is known. */
export function marginHeld(surface_c: number, dew_point_c: number): Margin {
  return { dew_point_c, margin_k: surface_c - dew_point_c };
}

/** Say whether a margin keeps a rule. */
export function keeps(margin_k: number, rule_k: number): boolean {
  return margin_k >= rule_k - EDGE_K;
}

/** Name what the margin fails: wet, or one of the two rules. */
export function whyNot(margin_k: number): string[] {
  const reasons = margin_k <= 0 ? ["surface_wet"] : [];
  if (!keeps(margin_k, RULE_5F_K)) reasons.push("below_5_f");
  if (!keeps(margin_k, RULE_3K)) reasons.push("below_3_k");
  return reasons;
}

/** Name what the temperatures themselves fail, now (air, surface) and at touch-dry. */
export function temperatureReasons(now_c: number[], then_c: number[]): string[] {
  const reasons: string[] = [];
  if (Math.min(...now_c) < PAINT_MIN_C - EDGE_K) reasons.push("colder_than_most_paints_allow");
  if (Math.max(...now_c) > PAINT_MAX_C + EDGE_K) reasons.push("hotter_than_most_paints_allow");
  if (Math.min(...now_c, ...then_c) < NEVER_BELOW_C - EDGE_K) reasons.push("too_cold_before_dry");
  return reasons;
}
