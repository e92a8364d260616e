/**
 * Which packs to buy, as few as can be and of those the least left over: the twin of the server's
 * `trade.packs`, which gives the theory. Here the fewest changes for each sum are kept in a table: what is to spare is
 * less than one pack, so that its length is bounded by the largest size that may be asked for.
 */

import { OutOfRangeError } from "./errors.ts";
import { nth } from "./lists.ts";

const ML_PER_L = 1000;
const EDGE = 1e-9;
const PACKS_MOST = 500;

export interface PackCount {
  readonly pack_l: number;
  readonly count: number;
}

/** Choose the packs that hold at least what is needed. */
export function packsFor(need_l: number, sizes_l: readonly number[]): PackCount[] {
  const sizes_ml = [...new Set(sizes_l.map(ml))].sort((a, b) => b - a);
  const largest_ml = nth(sizes_ml, 0);
  const need_ml = Math.ceil(need_l * ML_PER_L * (1 - EDGE));
  const count = Math.max(0, Math.ceil(need_ml / largest_ml));
  if (count > PACKS_MOST) {
    throw new OutOfRangeError("pack_sizes_l", "the packs are too small for so much");
  }
  const steps = sizes_ml.slice(1).map((size) => largest_ml - size);
  const changed = bestChanges(steps, count * largest_ml - need_ml, count);
  const counts = [count - changed.reduce((sum, n) => sum + n, 0), ...changed];
  return sizes_ml
    .map((size, i) => ({ pack_l: size / ML_PER_L, count: nth(counts, i) }))
    .filter((pack) => pack.count > 0);
}

function ml(size_l: number, index: number): number {
  const size_ml = Math.floor(size_l * ML_PER_L + 0.5);
  if (size_ml < 1) {
    throw new OutOfRangeError(`pack_sizes_l[${index}]`, "must be at least a millilitre");
  }
  return size_ml;
}

/** Give how many packs to change by each step, so that the most is taken away within the spare. */
function bestChanges(steps_ml: readonly number[], spare_ml: number, count: number): number[] {
  if (steps_ml.length === 0) return [];
  const unit = steps_ml.reduce(gcd);
  const steps = steps_ml.map((step) => step / unit);
  const fewest = [0];
  const came_by = [-1];
  for (let total = 1; total <= Math.floor(spare_ml / unit); total += 1) {
    let best = count + 1;
    let by = -1;
    for (const [i, step] of steps.entries()) {
      const n = step <= total ? nth(fewest, total - step) + 1 : best;
      if (n < best) [best, by] = [n, i];
    }
    fewest.push(best);
    came_by.push(by);
  }
  let total = fewest.length - 1;
  while (nth(fewest, total) > count) total -= 1;
  const changed = steps.map(() => 0);
  while (total > 0) {
    const by = nth(came_by, total);
    changed[by] = nth(changed, by) + 1;
    total -= nth(steps, by);
  }
  return changed;
}

function gcd(a: number, b: number): number {
  return b === 0 ? a : gcd(b, a % b);
}
