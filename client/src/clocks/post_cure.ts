/**
 * A post-cure as a timetable, warm at a rate, hold, warm on, and cool again: the twin of `trade.post_cure`.
 *
 * Rules: every change of temperature runs at the rate of the sheet, down to where it began.
 */

import { TradeError } from "./errors.ts";
import { instantOf, secondsOf } from "./instants.ts";
import { total, within } from "./laminate.ts";
import { last } from "./lists.ts";
import type { PostCure } from "./types.ts";

const SOAKS_MAX_N = 20;

export interface Leg {
  readonly kind: "warm" | "hold" | "cool";
  readonly from_at: number;
  readonly to_at: number;
  readonly from_c: number;
  readonly to_c: number;
}

export interface PostCurePlan {
  readonly legs: readonly Leg[];
  readonly held_minutes: number;
  readonly hottest_c: number;
  readonly ends_at: number;
}

/** Lay out a post-cure from an instant and a temperature on. */
export function postCurePlan(post_cure: PostCure, start_at: number, start_c: number): PostCurePlan {
  const { ramp_k_h, soaks } = post_cure;
  within(ramp_k_h, "ramp_k_h", 0.1, 600);
  within(start_c, "start_c", -50, 150);
  if (!(soaks.length >= 1 && soaks.length <= SOAKS_MAX_N)) {
    throw new TradeError("soaks", `a post-cure has 1 to ${SOAKS_MAX_N} soaks`);
  }
  soaks.forEach((soak, i) => {
    within(soak.temp_c, `soaks[${i}].temp_c`, -50, 250);
    within(soak.minutes, `soaks[${i}].minutes`, 0.001, 525_600);
  });
  const legs = legsOf(post_cure, secondsOf(start_at), start_c);
  return {
    legs,
    held_minutes: total(soaks.map((soak) => soak.minutes)),
    hottest_c: Math.max(...soaks.map((soak) => soak.temp_c)),
    ends_at: last(legs).to_at,
  };
}

function legsOf(postCure: PostCure, startS: number, startC: number): Leg[] {
  const legs: Leg[] = [];
  let atS = startS;
  let tempC = startC;
  const leg = (kind: Leg["kind"], lasts_s: number, to_c: number) => {
    const [from_at, to_at] = [instantOf(atS), instantOf(atS + lasts_s)];
    legs.push({ kind, from_at, to_at, from_c: tempC, to_c });
  };
  for (const soak of [...postCure.soaks, { temp_c: startC, minutes: 0 }]) {
    const changeS = (Math.abs(soak.temp_c - tempC) / postCure.ramp_k_h) * 3600;
    if (changeS > 0) leg(soak.temp_c > tempC ? "warm" : "cool", changeS, soak.temp_c);
    atS += changeS;
    tempC = soak.temp_c;
    const holdS = 60 * soak.minutes;
    if (holdS > 0) leg("hold", holdS, tempC);
    atS += holdS;
  }
  return legs;
}
