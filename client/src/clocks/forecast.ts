/**
 * What the temperature track says of an instant and of a span: the twin of the server's `trade.forecast`.
 *
 * Rules
 * - Before the track its first temperature holds; past its end its last day repeats for ever.
 * - The lowest of a span lies at an end or at a knot.
 */

import { bisectRight, last, nth } from "./lists.ts";
import type { Track } from "./types.ts";

/** Give the temperature at an instant. */
export function tempAtS(track: Track, at_s: number): number {
  const atS = folded(track, at_s);
  const { knots } = track;
  const i = bisectRight(knots.length, atS, (j) => nth(knots, j).at_s);
  if (i === 0) return nth(knots, 0).temp_c;
  if (i === knots.length) return last(knots).temp_c;
  const left = nth(knots, i - 1);
  const right = nth(knots, i);
  const share = (atS - left.at_s) / (right.at_s - left.at_s);
  return left.temp_c + (right.temp_c - left.temp_c) * share;
}

/** Give the lowest temperature from one instant to another, both with. */
export function lowestC(track: Track, from_s: number, to_s: number): number {
  const { knots } = track;
  const endS = last(knots).at_s;
  const beginS = nth(knots, track.repeats_from).at_s;
  let found = Math.min(tempAtS(track, from_s), tempAtS(track, to_s));
  for (const knot of knots) {
    if (from_s < knot.at_s && knot.at_s < to_s) found = Math.min(found, knot.temp_c);
  }
  if (to_s <= endS) return found;
  const periodS = endS - beginS;
  const firstS = Math.max(from_s, endS);
  const offsetS = periodS * Math.floor((firstS - beginS) / periodS);
  for (const knot of knots.slice(track.repeats_from)) {
    for (const laterS of [offsetS, offsetS + periodS]) {
      const atS = knot.at_s + laterS;
      if (firstS < atS && atS < to_s) found = Math.min(found, knot.temp_c);
    }
  }
  return found;
}

function folded(track: Track, atS: number): number {
  const endS = last(track.knots).at_s;
  if (atS <= endS) return atS;
  const periodS = endS - nth(track.knots, track.repeats_from).at_s;
  return atS - periodS * (Math.floor((atS - endS) / periodS) + 1);
}
