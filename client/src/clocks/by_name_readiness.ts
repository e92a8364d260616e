/** The sums that say whether a coat may go on now and what the air is for laminating, by their stable names, with plain JSON. */

import { laminatingAir } from "./laminating_air.ts";
import { mayCoatNow } from "./readiness.ts";
import { latestAir } from "./readiness_air.ts";
import { LAMINATES } from "./readiness_laminating.ts";
import { FIT_OVER_S, trackOf } from "./temperature.ts";
import type { Reading } from "./types.ts";

// biome-ignore lint/suspicious/noExplicitAny: the input was read by the schema of the sum
type Input = any;

export const READINESS_SUMS: Readonly<Record<string, (input: Input) => unknown>> = {
  laminating_air: ({ readings, now_at, spray }) => laminatingAir(readings, now_at, spray),
  may_coat_now: ({ readings, curve, kind, spray, ...facts }) => {
    const known = readings.filter((one: Reading) => one.at <= facts.now_at);
    const recent = known.filter((one: Reading) => one.at >= facts.now_at - FIT_OVER_S * 1000);
    const track = trackOf(recent, curve, facts.now_at);
    const laminating = LAMINATES.has(kind) ? laminatingAir(known, facts.now_at, spray) : null;
    return mayCoatNow({ ...facts, air: latestAir(known), laminating }, track);
  },
};
