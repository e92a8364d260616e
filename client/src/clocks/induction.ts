/**
 * How long a mix must stand in the tin before it may be used: the twin of the server's `trade.induction`.
 *
 * Rules
 * - Where two bands meet, and in a gap between two, the colder one counts.
 * - Beyond the bands the sheet says nothing: refused. Without bands its one time counts, without both there is none.
 *
 * Source: bands of a polyamide epoxy (MIL-P-24441 class): NAVFAC MO-124.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";
import { nth } from "./lists.ts";
import type { InductionBand, Mix } from "./types.ts";

/** Give how long a mix stands before it may be used, 0 when the sheet asks for nothing. */
export function inductionMinutes(mix: Mix, temp_c: number | null): number {
  const bands = mix.induction_by_temp ?? [];
  if (bands.length === 0) return mix.induction_minutes ?? 0;
  if (temp_c === null) {
    throw new TradeError("temp_c", "is needed: the time in the tin goes by temperature");
  }
  return inBand(bands, temp_c);
}

/** Give the minutes of the band that counts at a temperature; the bands rise. */
export function inBand(bands: readonly InductionBand[], temp_c: number): number {
  const first = nth(bands, 0);
  const { to_c } = nth(bands, bands.length - 1);
  if (temp_c < first.from_c) {
    throw new OutOfRangeError("temp_c", `no time in the tin is given below ${first.from_c} degC`);
  }
  if (to_c !== null && temp_c > to_c) {
    throw new OutOfRangeError("temp_c", `no time in the tin is given above ${to_c} degC`);
  }
  return (bands.filter((one) => one.from_c < temp_c).at(-1) ?? first).minutes;
}

/** Refuse bands that do not rise, overlap, or ask for more time where it is warmer. */
export function checkBands(bands: readonly InductionBand[], field: string): void {
  for (const [i, { from_c, to_c, minutes }] of bands.entries()) {
    const before = bands[i - 1];
    if (to_c !== null && to_c <= from_c) {
      throw new TradeError(`${field}[${i}].to_c`, "must lie above from_c");
    }
    if (to_c === null && i < bands.length - 1) {
      throw new TradeError(`${field}[${i}].to_c`, "only the last band may be open above");
    }
    if (before && from_c < (before.to_c ?? 0)) {
      throw new TradeError(`${field}[${i}].from_c`, "bands must follow one another upward");
    }
    if (before && minutes > before.minutes) {
      throw new TradeError(`${field}[${i}].minutes`, "warmer cannot take longer");
    }
  }
}
