/**
 * How large a pot, when to mix the next one, and when a pot will run away: the twin of the server's
 * `trade.pots`, which gives theory, rules and sources.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";

const DOUBLING_K = 10;
const WARM_ABOVE = 1;
const RUNAWAY_ABOVE = 2;
const EDGE = 1e-9;
const POTS_MOST = 200;

export interface PotTimes {
  readonly pot_life_minutes: number;
  readonly mixing_minutes: number;
  readonly induction_minutes: number;
  readonly reserve_pct: number;
}

/** One pot of a day's plan; minutes from the first stirring. */
export interface PotTime {
  readonly pot_kg: number;
  readonly stir_at_minutes: number;
  readonly use_from_minutes: number;
  readonly empty_at_minutes: number;
  readonly dead_at_minutes: number;
  readonly in_time: boolean;
}

/** Give how long a pot can be worked with. */
export function workingMinutes(times: PotTimes): number {
  const left = times.pot_life_minutes - times.mixing_minutes - times.induction_minutes;
  if (left <= 0) throw new TradeError("pot_life_minutes", "is over before the pot can be used");
  return left * (1 - times.reserve_pct / 100);
}

/** Plan the pots for a job so that one follows the other without a stop. */
export function potPlan(
  total_kg: number,
  pot_kg: number,
  pace_kg_per_minute: number,
  times: PotTimes,
): PotTime[] {
  const count = Math.max(1, Math.ceil(total_kg / pot_kg - EDGE));
  if (count > POTS_MOST) {
    throw new OutOfRangeError("pot_kg", `would make more than ${POTS_MOST} pots`);
  }
  workingMinutes(times);
  const before = times.mixing_minutes + times.induction_minutes;
  const plan: PotTime[] = [];
  let use_from = before;
  for (let i = 0; i < count; i += 1) {
    const mass = Math.min(pot_kg, total_kg - i * pot_kg);
    const empty_at_minutes = use_from + mass / pace_kg_per_minute;
    const dead_at_minutes = use_from - before + times.pot_life_minutes;
    plan.push({
      pot_kg: mass,
      stir_at_minutes: use_from - before,
      use_from_minutes: use_from,
      empty_at_minutes,
      dead_at_minutes,
      in_time: empty_at_minutes <= dead_at_minutes * (1 + EDGE),
    });
    use_from = empty_at_minutes;
  }
  return plan;
}

/** Give how many times faster a pot goes than at the sheet's temperature. */
export function speedUp(temp_c: number, reference_c: number): number {
  return 2 ** ((temp_c - reference_c) / DOUBLING_K);
}

/** Name how a pot of this ratio must be treated. */
export function heatOfPot(ratio: number): "ok" | "warm" | "runaway" {
  if (ratio > RUNAWAY_ABOVE * (1 + EDGE)) return "runaway";
  return ratio > WARM_ABOVE * (1 + EDGE) ? "warm" : "ok";
}
