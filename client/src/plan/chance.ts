/** What the figures of a plan mean in words: which word, not how it is said. */
import type { PlanStep } from "./types.ts";

export type Chance = "sure" | "likely" | "even" | "unlikely" | "hardly";

/** The word for a probability. */
export function chanceOf(p: number): Chance {
  if (p >= 0.9) return "sure";
  if (p >= 0.65) return "likely";
  if (p >= 0.4) return "even";
  if (p >= 0.1) return "unlikely";
  return "hardly";
}

/** Whole per cent, never 0 and never 100: a forecast knows neither. */
export const percentOf = (p: number): number => Math.min(99, Math.max(1, Math.round(p * 100)));

/**
 * What is left between the end of what must be done and the launch, in ms; negative when it is late. What cures before
 * the launch counts until it is cured. Null where nothing must be done.
 */
export function spareOf(
  steps: readonly PlanStep[],
  must: (step: PlanStep) => boolean,
  launch: number,
): number | null {
  const ends = steps.filter(must).map((step) => {
    const end = Date.parse(step.end_at);
    const cured = Date.parse(step.cure_until_at ?? "");
    return cured > end && cured <= launch ? cured : end;
  });
  return ends.length === 0 ? null : launch - Math.max(...ends);
}
