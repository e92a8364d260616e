/**
 * Dew point and the margin of the surface above it: the twin of the server's `trade.air`.
 *
 * Theory: vapour pressure over water follows Magnus, e_s(t) = E exp(A t / (B + t)); the dew point is
 * where e_s equals the vapour pressure. Valid from -45 to 60 degC and above 0 to 100 % humidity.
 *
 * Source: WMO-No. 8, annex on psychrometric formulae (constants after Sonntag 1990).
 */

import { OutOfRangeError } from "./errors.ts";

export const MAGNUS_A = 17.62;
export const MAGNUS_B_C = 243.12;
export const AIR_MIN_C = -45;
export const AIR_MAX_C = 60;

/** Give the dew point of air. */
export function dewPointC(air_c: number, rh_pct: number): number {
  if (!(air_c >= AIR_MIN_C && air_c <= AIR_MAX_C)) {
    throw new OutOfRangeError("air_c", `must lie in ${AIR_MIN_C} to ${AIR_MAX_C} degC`);
  }
  if (!(rh_pct > 0 && rh_pct <= 100)) {
    throw new OutOfRangeError("rh_pct", "must lie above 0 and at most at 100 %");
  }
  const gamma = Math.log(rh_pct / 100) + (MAGNUS_A * air_c) / (MAGNUS_B_C + air_c);
  return (MAGNUS_B_C * gamma) / (MAGNUS_A - gamma);
}

/** Give how far the surface lies above the dew point of the air (negative: it is wet). */
export function dewMarginC(surface_c: number, air_c: number, rh_pct: number): number {
  return surface_c - dewPointC(air_c, rh_pct);
}
