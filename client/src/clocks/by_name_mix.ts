/** The sums of mixing and pots by their stable names; what they are given was read by the schema. */

import { TradeError } from "./errors.ts";
import { checkBands, inductionMinutes } from "./induction.ts";
import {
  CATALYST_PREFERRED_PCT,
  catalystKg,
  checkTemperature,
  partsByMass,
  partsByVolume,
} from "./mix.ts";
import { heatOfPot, type PotTimes, potPlan, speedUp, workingMinutes } from "./pots.ts";
import type { InductionBand, Mix } from "./types.ts";

interface Inducted {
  readonly induction_minutes: number;
  readonly induction_by_temp: readonly InductionBand[];
  readonly temp_c: number | null;
}

interface Ratio extends Inducted {
  readonly ratio_base: number;
  readonly ratio_hardener: number;
}

interface ByMass extends Ratio {
  readonly base_kg: number | null;
  readonly hardener_kg: number | null;
  readonly total_kg: number | null;
}

interface ByVolume extends Ratio {
  readonly base_l: number | null;
  readonly hardener_l: number | null;
  readonly total_l: number | null;
}

interface Catalysed {
  readonly resin_kg: number;
  readonly temp_c: number;
  readonly catalyst_pct: number;
  readonly min_pct: number;
  readonly max_pct: number;
  readonly temp_min_c: number;
  readonly temp_max_c: number;
  readonly catalyst_density_kg_l: number | null;
}

interface PotOfJob extends Omit<PotTimes, "reserve_pct" | "induction_minutes">, Inducted {
  readonly total_kg: number;
  readonly pot_kg: number;
  readonly pace_kg_per_minute: number;
}

interface LargestPot extends Omit<PotTimes, "induction_minutes">, Inducted {
  readonly pace_kg_per_minute: number;
  readonly pot_reference_kg: number | null;
}

interface HotPot {
  readonly pot_kg: number;
  readonly temp_c: number;
  readonly pot_reference_kg: number;
  readonly reference_temp_c: number;
  readonly pot_life_minutes: number | null;
}

const BARE: Mix = {
  by_mass: null,
  by_volume: null,
  catalyst: null,
  induction_minutes: null,
  pot_reference_kg: null,
};

/** Give the induction time: that of the band of the temperature, else the one that is given. */
function inductionOf({ induction_minutes, induction_by_temp, temp_c }: Inducted): number {
  checkBands(induction_by_temp, "induction_by_temp");
  return inductionMinutes({ ...BARE, induction_minutes, induction_by_temp }, temp_c);
}

/** Give the whole pot from the one amount that is given: base, hardener or total. */
function wholeOf(given: Ratio, amounts: readonly (number | null)[], field: string): number {
  const { ratio_base, ratio_hardener } = given;
  const whole = ratio_base + ratio_hardener;
  const known = amounts.findIndex((one) => one !== null);
  const amount = amounts[known];
  if (amounts.filter((one) => one !== null).length !== 1 || amount == null) {
    throw new TradeError(field, "give one amount: base, hardener or total");
  }
  return (amount * whole) / ([ratio_base, ratio_hardener, whole][known] ?? whole);
}

export function mixByMass(given: ByMass) {
  const amounts = [given.base_kg, given.hardener_kg, given.total_kg];
  const total_kg = wholeOf(given, amounts, "total_kg");
  const by_mass = { base: given.ratio_base, hardener: given.ratio_hardener };
  const parts = partsByMass({ ...BARE, by_mass }, total_kg);
  return { ...parts, total_kg, use_after_minutes: inductionOf(given) };
}

export function mixByVolume(given: ByVolume) {
  const amounts = [given.base_l, given.hardener_l, given.total_l];
  const total_l = wholeOf(given, amounts, "total_l");
  const by_volume = { base: given.ratio_base, hardener: given.ratio_hardener };
  const parts = partsByVolume({ ...BARE, by_volume }, total_l);
  return { ...parts, total_l, use_after_minutes: inductionOf(given) };
}

export function catalyst(given: Catalysed) {
  const { catalyst_pct, min_pct, max_pct, catalyst_density_kg_l } = given;
  checkTemperature(given.temp_c, given.temp_min_c, given.temp_max_c);
  const sheet = { min_pct, usual_pct: catalyst_pct, max_pct };
  const catalyst_kg = catalystKg({ ...BARE, catalyst: sheet }, given.resin_kg);
  const [low, high] = CATALYST_PREFERRED_PCT;
  return {
    catalyst_kg,
    catalyst_l: catalyst_density_kg_l === null ? null : catalyst_kg / catalyst_density_kg_l,
    basis: "common_practice",
    reasons: catalyst_pct >= low && catalyst_pct <= high ? [] : ["outside_preferred"],
  };
}

export function largestPot(given: LargestPot) {
  const working_minutes = workingMinutes({ ...given, induction_minutes: inductionOf(given) });
  const by_pace_kg = working_minutes * given.pace_kg_per_minute;
  const reference_kg = given.pot_reference_kg;
  if (reference_kg === null) {
    return { largest_kg: by_pace_kg, working_minutes, reasons: ["sheet_mass_unknown"] };
  }
  const reasons = by_pace_kg > reference_kg ? ["held_to_reference"] : [];
  return { largest_kg: Math.min(by_pace_kg, reference_kg), working_minutes, reasons };
}

export function nextPot(given: PotOfJob) {
  const times = { ...given, induction_minutes: inductionOf(given), reserve_pct: 0 };
  const pots = potPlan(given.total_kg, given.pot_kg, given.pace_kg_per_minute, times);
  return {
    next_after_minutes: pots[1]?.stir_at_minutes ?? null,
    pots,
    pot_count: pots.length,
    done_at_minutes: pots.at(-1)?.empty_at_minutes ?? 0,
    reasons: pots.every((pot) => pot.in_time) ? [] : ["pot_too_large"],
  };
}

export function potHeat(given: HotPot) {
  const { pot_kg, temp_c, pot_reference_kg, reference_temp_c, pot_life_minutes } = given;
  const faster = speedUp(temp_c, reference_temp_c);
  const heat_ratio = (pot_kg / pot_reference_kg) * faster;
  return {
    heat_ratio,
    level: heatOfPot(heat_ratio),
    safe_kg: pot_reference_kg / faster,
    pot_life_at_most_minutes: pot_life_minutes === null ? null : pot_life_minutes / faster,
    basis: "common_practice",
    reasons: [
      ...(pot_kg > pot_reference_kg ? ["big_pot"] : []),
      ...(temp_c > reference_temp_c ? ["hot_pot"] : []),
    ],
  };
}

export const MIX_SUMS = {
  mix_by_mass: mixByMass,
  mix_by_volume: mixByVolume,
  catalyst,
  largest_pot: largestPot,
  next_pot: nextPot,
  pot_heat: potHeat,
};
