/** The sum that says whether a coat may go on now, by its stable name, with plain JSON. */

import { mayCoatNow } from "./readiness.ts";
import { latestAir } from "./readiness_air.ts";
import { FIT_OVER_S, trackOf } from "./temperature.ts";
import type { Reading } from "./types.ts";

// biome-ignore lint/suspicious/noExplicitAny: the input was read by the schema of the sum
type Input = any;

export const READINESS_SUMS: Readonly<Record<string, (input: Input) => unknown>> = {
  may_coat_now: ({ readings, curve, ...facts }) => {
    const known = readings.filter((one: Reading) => one.at <= facts.now_at);
    const recent = known.filter((one: Reading) => one.at >= facts.now_at - FIT_OVER_S * 1000);
    const track = trackOf(recent, curve, facts.now_at);
    return mayCoatNow({ ...facts, air: latestAir(known) }, track);
  },
};
