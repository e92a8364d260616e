/**
 * The air of a place where resin and glass are laid: the twin of the server's `trade.laminating_air`.
 *
 * Rules
 * - At least 18 degC for 24 h before, at most 3 K between the coldest and the warmest of that day, humidity at most
 *   80 %, and at least 40 % where resin is sprayed.
 * - The air counts, the surface where no air was measured. A day is covered without a gap above six hours.
 * - Advice: the product's own sheet counts before it.
 *
 * Source: Iranian Classification Society, Rules for FRP Ships, laminating, 102.2-4; gaps: our own caution.
 */

import type { Reading } from "./types.ts";

export const LAMINATING = "Iranian Classification Society, FRP rules, 102.2-4";
export const LAMINATING_MIN_C = 18;
export const LAMINATING_BEFORE_H = 24;
export const LAMINATING_SWING_MAX_K = 3;
export const LAMINATING_RH_MAX_PCT = 80;
export const LAMINATING_RH_MIN_SPRAY_PCT = 40;
const HOUR_MS = 3_600_000;
const GAP_MS = 6 * HOUR_MS;
const EDGE = 1e-9;

export interface LaminatingAir {
  readonly ok: boolean;
  readonly coldest_c: number | null;
  readonly swing_k: number | null;
  readonly rh_pct: number | null;
  readonly covered: boolean;
  readonly reasons: readonly string[];
}

/** Hold the day before against the limits for laminating. */
export function laminatingAir(
  readings: readonly Reading[],
  now_at: number,
  spray = false,
): LaminatingAir {
  const first_at = now_at - LAMINATING_BEFORE_H * HOUR_MS;
  const day = readings
    .filter((one) => one.at >= first_at && one.at <= now_at)
    .sort((a, b) => a.at - b.at);
  const measured = day.flatMap(({ at, air_c, surface_c }) => {
    const temp_c = air_c ?? surface_c;
    return temp_c === null ? [] : [{ at, temp_c }];
  });
  const temps = measured.map((one) => one.temp_c);
  const edges = [first_at, ...measured.map((one) => one.at), now_at];
  const covered = edges.every((at, i) => i === 0 || at - (edges[i - 1] ?? at) <= GAP_MS);
  const coldest_c = temps.length > 0 ? Math.min(...temps) : null;
  const swing_k = coldest_c === null ? null : Math.max(...temps) - coldest_c;
  const rh_pct = latestRh(day);
  const damp = rh_pct ?? LAMINATING_RH_MIN_SPRAY_PCT;
  const fails: Record<string, boolean> = {
    laminating_too_cold: coldest_c !== null && coldest_c < LAMINATING_MIN_C - EDGE,
    laminating_swing: swing_k !== null && swing_k > LAMINATING_SWING_MAX_K + EDGE,
    laminating_too_humid: damp > LAMINATING_RH_MAX_PCT + EDGE,
    laminating_too_dry: spray && damp < LAMINATING_RH_MIN_SPRAY_PCT - EDGE,
    laminating_not_covered: !covered,
    laminating_no_humidity: rh_pct === null,
  };
  const reasons = Object.keys(fails).filter((reason) => fails[reason]);
  return { ok: reasons.length === 0, coldest_c, swing_k, rh_pct, covered, reasons };
}

/** Give the newest humidity; of two at one instant the damper one. */
function latestRh(day: readonly Reading[]): number | null {
  let held: { at: number; rh_pct: number } | null = null;
  for (const { at, rh_pct } of day) {
    if (rh_pct === null) continue;
    if (held === null || at > held.at || rh_pct > held.rh_pct) held = { at, rh_pct };
  }
  return held?.rh_pct ?? null;
}
