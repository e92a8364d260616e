/** The sums around the cure by their stable names, with plain JSON. */

import { immersion } from "./immersion.ts";
import { missedWindow } from "./missed_window.ts";
import { postCurePlan } from "./post_cure.ts";

// biome-ignore lint/suspicious/noExplicitAny: the input comes from outside and is checked by the sums
type Input = any;

export const CURE_SUMS: Readonly<Record<string, (input: Input) => unknown>> = {
  missed_window: (input) =>
    missedWindow(
      input.under,
      input.area_m2 ?? null,
      input.sand_minutes_per_m2 ?? null,
      input.over ?? null,
      input.clean_minutes_per_m2,
    ),
  post_cure: (input) => postCurePlan(input, input.start_at, input.start_c),
  immersion_window: (input) =>
    immersion(
      input.coats.map((coat: Input) => ({ opens_at: null, closes_at: null, ...coat })),
      input.now_at,
      input.launch_at ?? null,
    ),
};
