/** The sums of what may go over what by their stable names, with plain JSON. */

import { goesOver, mayBeThinned } from "./compatibility.ts";
import { checkOrder } from "./job_order.ts";

// biome-ignore lint/suspicious/noExplicitAny: the input comes from outside and is checked by the sums
type Input = any;

export const COMPATIBILITY_SUMS: Readonly<Record<string, (input: Input) => unknown>> = {
  may_go_over: (input) => goesOver(input.over, input.under, input.state),
  may_be_thinned: (input) => mayBeThinned(input.over, input.thinner),
  job_order: (input) => ({
    findings: checkOrder(
      input.steps.map((step: Input) => ({
        material: null,
        in_window: false,
        tack: false,
        ...step,
      })),
      input.under ?? null,
      input.state ?? null,
    ),
  }),
};
