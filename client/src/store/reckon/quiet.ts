/**
 * Quiet hours: until when something that can wait is held back; the twin of the server's `reckoning.quiet`.
 *
 * - They go by what the wall clock shows at each instant, over changes of the clocks too. An end that the clocks skip
 *   comes as much later. From and to alike: there are none. A zone that is not known here counts as UTC.
 */
import { offsetS } from "../zones.ts";

const DAY_MS = 86_400_000;
const TRIES = 4;

/** The first instant from `at` on that does not lie in quiet hours. */
export function heldUntil(
  at: number,
  quiet_from: string | null,
  quiet_to: string | null,
  zone: string,
): number {
  if (quiet_from === null || quiet_to === null || quiet_from === quiet_to) return at;
  const [from, to] = [msOf(quiet_from), msOf(quiet_to)];
  let ms = Math.round(at);
  for (let n = 0; n < TRIES; n++) {
    const shown = shownMs(zone, ms);
    if (!isQuiet(shown, from, to)) break;
    const later = ms + modulo(to - shown, DAY_MS);
    const back = later - 1000 * (offsetS(zone, later) - offsetS(zone, ms));
    ms = back !== later && !isQuiet(shownMs(zone, back), from, to) ? back : later;
  }
  return ms === Math.round(at) ? at : ms;
}

const modulo = (value: number, by: number): number => ((value % by) + by) % by;

const msOf = (wall: string): number =>
  60_000 * (60 * Number(wall.slice(0, 2)) + Number(wall.slice(3, 5)));

/** What the wall clock shows, as milliseconds since its midnight. */
const shownMs = (zone: string, ms: number): number => modulo(ms + 1000 * offsetS(zone, ms), DAY_MS);

const isQuiet = (shown: number, from: number, to: number): boolean =>
  from < to ? from <= shown && shown < to : shown >= from || shown < to;
