/**
 * When a boat may float, by all of its coats together: the twin of the server's `trade.immersion`.
 *
 * Rules
 * - She opens with the latest coat and closes with the earliest; both are named.
 * - A coat whose opening is not known keeps the answer `unknown`.
 * - A coat that closes before another opens leaves no day at all: `conflict`.
 */

import { TradeError } from "./errors.ts";
import type { Clock } from "./types.ts";

export interface ImmersionCoat {
  readonly source_id: string;
  readonly opens_at: number | null;
  readonly closes_at: number | null;
}

export interface Immersion {
  readonly state: "open" | "not_yet" | "past" | "conflict" | "unknown";
  readonly opens_at: number | null;
  readonly opens_by: string | null;
  readonly closes_at: number | null;
  readonly closes_by: string | null;
  readonly unknown: readonly string[];
  readonly launch: "fits" | "too_early" | "too_late" | "unknown" | null;
}

interface Edge {
  readonly at: number;
  readonly by: string;
}

/** Say when a boat may float by her coats. */
export function immersion(
  coats: readonly ImmersionCoat[],
  now_at: number,
  launch_at: number | null = null,
): Immersion {
  if (coats.length === 0) throw new TradeError("coats", "needs at least one coat");
  const unknown = coats.filter((one) => one.opens_at === null).map((one) => one.source_id);
  const opens = unknown.length > 0 ? null : edge(coats, "opens_at", (one, best) => one > best);
  const closes = edge(coats, "closes_at", (one, best) => one < best);
  const opens_at = opens?.at ?? null;
  const closes_at = closes?.at ?? null;
  return {
    state: stateOf(opens_at, closes_at, now_at),
    opens_at,
    opens_by: opens?.by ?? null,
    closes_at,
    closes_by: closes?.by ?? null,
    unknown,
    launch: launch_at === null ? null : launchOf(opens_at, closes_at, launch_at),
  };
}

/** Give the coats that have a word to say about floating, from their clocks. */
export function coatsOf(clocks: readonly Clock[]): ImmersionCoat[] {
  return clocks
    .filter((clock) => clock.stage === "immerse_opens")
    .map(({ source_id, governing_at, reasons }) => ({
      source_id,
      opens_at: reasons.includes("coat_not_ended") ? null : governing_at,
      closes_at:
        clocks.find((one) => one.source_id === source_id && one.stage === "immerse_closes")
          ?.last_start_at ?? null,
    }));
}

function edge(
  coats: readonly ImmersionCoat[],
  field: "opens_at" | "closes_at",
  better: (one: number, best: number) => boolean,
): Edge | null {
  let found: Edge | null = null;
  for (const coat of coats) {
    const at = coat[field];
    if (at !== null && (found === null || better(at, found.at))) {
      found = { at, by: coat.source_id };
    }
  }
  return found;
}

function stateOf(opensAt: number | null, closesAt: number | null, nowAt: number) {
  if (closesAt !== null && closesAt <= nowAt) return "past";
  if (opensAt === null) return "unknown";
  if (closesAt !== null && closesAt <= opensAt) return "conflict";
  return opensAt <= nowAt ? "open" : "not_yet";
}

function launchOf(opensAt: number | null, closesAt: number | null, launchAt: number) {
  if (closesAt !== null && launchAt > closesAt) return "too_late";
  if (opensAt === null) return "unknown";
  return launchAt < opensAt ? "too_early" : "fits";
}
