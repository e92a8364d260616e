/**
 * What to weigh or measure for a pot: the twin of the server's `trade.mix`.
 *
 * Rules
 * - A ratio that the profile does not carry is never guessed; mass and volume are never exchanged.
 * - Catalyst goes by percent of the resin's mass, inside the sheet's range only.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";
import type { Mix, Ratio } from "./types.ts";

export const CATALYST_PREFERRED_PCT = [1.25, 2] as const;

export interface PartsByMass {
  readonly base_kg: number;
  readonly hardener_kg: number;
}

export interface PartsByVolume {
  readonly base_l: number;
  readonly hardener_l: number;
}

/** Give the hardener's mass for a mass of base. */
export function hardenerKg(mix: Mix, base_kg: number): number {
  const ratio = given(mix.by_mass, "mix.by_mass");
  return (amount(base_kg, "base_kg") * ratio.hardener) / ratio.base;
}

/** Give the hardener's volume for a volume of base. */
export function hardenerL(mix: Mix, base_l: number): number {
  const ratio = given(mix.by_volume, "mix.by_volume");
  return (amount(base_l, "base_l") * ratio.hardener) / ratio.base;
}

/** Split a pot of a mass into base and hardener. */
export function partsByMass(mix: Mix, total_kg: number): PartsByMass {
  const ratio = given(mix.by_mass, "mix.by_mass");
  const base_kg = (amount(total_kg, "total_kg") * ratio.base) / (ratio.base + ratio.hardener);
  return { base_kg, hardener_kg: total_kg - base_kg };
}

/** Split a pot of a volume into base and hardener. */
export function partsByVolume(mix: Mix, total_l: number): PartsByVolume {
  const ratio = given(mix.by_volume, "mix.by_volume");
  const base_l = (amount(total_l, "total_l") * ratio.base) / (ratio.base + ratio.hardener);
  return { base_l, hardener_l: total_l - base_l };
}

/** Give the catalyst's mass for a mass of resin; the usual percentage when none is given. */
export function catalystKg(mix: Mix, resin_kg: number, catalyst_pct: number | null = null): number {
  if (mix.catalyst === null) {
    throw new TradeError("mix.catalyst", "this product is not catalysed by percent");
  }
  const { min_pct, usual_pct, max_pct } = mix.catalyst;
  const percent = catalyst_pct ?? usual_pct;
  if (!(percent >= min_pct && percent <= max_pct)) {
    throw new OutOfRangeError("catalyst_pct", `must lie in ${min_pct} to ${max_pct} %`);
  }
  return (amount(resin_kg, "resin_kg") * percent) / 100;
}

/** Refuse resin that is too cold to cure or too hot to be safe. */
export function checkTemperature(temp_c: number, min_c: number, max_c: number): void {
  if (!(temp_c >= min_c && temp_c <= max_c)) {
    throw new OutOfRangeError("temp_c", `must lie in ${min_c} to ${max_c} degC to be catalysed`);
  }
}

function given(ratio: Ratio | null, field: string): Ratio {
  if (ratio === null) throw new TradeError(field, "the profile gives no such ratio: read the tin");
  return ratio;
}

function amount(value: number, field: string): number {
  if (!(value >= 0 && value < Number.POSITIVE_INFINITY)) {
    throw new OutOfRangeError(field, "must be a number that is not negative");
  }
  return value;
}
