/** A whole exchange: rounds until nothing is left to say or to hear, and when to try again. */
import type { Copy } from "../store/copy.ts";
import { MOST_OPERATIONS, type Outcome, type Ports, round } from "./round.ts";

export type Ending = Exclude<Outcome, { kind: "taken" } | { kind: "too_large" }> | { kind: "done" };

const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 5 * 60_000;
const MOST_ROUNDS = 1000;

/** Go on until the server has nothing more and nothing waits here, or until it fails. */
export async function exchange(
  copy: Copy,
  ports: Ports,
  onTaken: (numbers: number[], whole: boolean) => void = () => {},
): Promise<Ending> {
  let most = MOST_OPERATIONS;
  let words_first = true;
  for (let count = 0; count < MOST_ROUNDS; count++) {
    const outcome = await round(copy, ports, most, words_first);
    if (outcome.kind === "too_large") {
      if (most === 1) return { kind: "later", offline: false, wait_ms: 0 };
      most = Math.ceil(most / 2);
      continue;
    }
    if (outcome.kind !== "taken") return outcome;
    // Words that do not move, before a gap in their numbers, must not hold up what comes in.
    words_first = !outcome.stuck;
    onTaken(outcome.numbers, outcome.whole);
    if (!outcome.more) break;
  }
  return { kind: "done" };
}

/** How long to wait after so many failures in a row: doubling, with half of it left to chance. */
export function backoff(failures: number, chance: number, wait_ms = 0): number {
  const full = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (failures - 1));
  return Math.max(wait_ms, full / 2 + (chance * full) / 2);
}
