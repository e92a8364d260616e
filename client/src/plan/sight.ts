/**
 * What of a timeline is drawn: what is in sight and somewhat more on either side, since all bars of a long refit at once
 * take a cheap phone seconds. Measures in px along the line.
 */
import type { Reach } from "./lanes.ts";

/** So many widths of the screen are drawn on either side of what is in sight, and fewer than so many are too few. */
const [MARGIN, LEAST] = [2, 1];

/** Words beside a short bar go on past all else of it. */
const WORDS_PX = 320;

export const meets = (one: Reach, sight: Reach): boolean =>
  one.from <= sight.to && one.to >= sight.from;

/** Whether a bar has something in sight. */
export const barMeets = ({ reach }: { reach: Reach }, sight: Reach): boolean =>
  meets({ from: reach.from, to: reach.to + WORDS_PX }, sight);

/** What to draw for whoever looks from `left` on; what is drawn stays while it reaches far enough. */
export function drawnFor(left: number, width: number, drawn: Reach | null): Reach {
  const least = width * LEAST;
  if (drawn && drawn.from <= left - least && drawn.to >= left + width + least) return drawn;
  return { from: left - width * MARGIN, to: left + width * (1 + MARGIN) };
}
