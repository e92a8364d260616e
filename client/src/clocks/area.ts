/**
 * Area from measured girths, by Simpson's rule: the twin of the server's `trade.area`, which gives
 * theory, rules and source.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";
import { nth } from "./lists.ts";

const SPACING_RATIO_MOST = 2;
const EDGE = 1e-9;

/** Give the distance from each station to the next, from where they stand or from one spacing. */
export function spacingsM(
  stations_m: readonly number[] | null,
  spacing_m: number | null,
  count: number,
): number[] {
  if ((stations_m === null) === (spacing_m === null)) {
    throw new TradeError("spacing_m", "give the spacing or the stations, one of them");
  }
  if (stations_m === null) return new Array(count - 1).fill(spacing_m ?? 0);
  if (stations_m.length !== count) {
    throw new TradeError("stations_m", "there must be one station to each girth");
  }
  const gaps = stations_m.slice(1).map((after, i) => after - nth(stations_m, i));
  for (const [i, gap] of gaps.entries()) {
    if (gap <= 0) {
      throw new TradeError(`stations_m[${i + 1}]`, "must lie beyond the station before it");
    }
    if (i > 0 && !alike(nth(gaps, i - 1), gap)) {
      throw new OutOfRangeError(
        `stations_m[${i + 1}]`,
        "neighbouring spacings may differ by at most 2 to 1",
      );
    }
  }
  return gaps;
}

/** Integrate values over unequal spacings. */
export function simpson(values: readonly number[], gaps: readonly number[]): number {
  const y = (i: number) => nth(values, i);
  const h = (i: number) => nth(gaps, i);
  if (values.length === 2) return (h(0) * (y(0) + y(1))) / 2;
  let total = 0;
  for (let i = 0; i + 1 < gaps.length; i += 2) {
    total += pair(y(i), y(i + 1), y(i + 2), h(i), h(i + 1));
  }
  if (gaps.length % 2 === 1) {
    const n = values.length;
    total += lastOne(y(n - 3), y(n - 2), y(n - 1), h(n - 3), h(n - 2));
  }
  return total;
}

/** Take openings away; more than there is, is refused. */
export function lessOpeningsM2(gross_m2: number, openings_m2: readonly number[]): number {
  const net_m2 = gross_m2 - openings_m2.reduce((sum, one) => sum + one, 0);
  if (net_m2 < 0) {
    throw new OutOfRangeError("openings_m2", "must not be larger than the whole area");
  }
  return net_m2;
}

function alike(one: number, other: number): boolean {
  return Math.max(one, other) <= SPACING_RATIO_MOST * Math.min(one, other) * (1 + EDGE);
}

function pair(y0: number, y1: number, y2: number, h0: number, h1: number): number {
  const both = h0 + h1;
  const weighed = (2 - h1 / h0) * y0 + ((both * both) / (h0 * h1)) * y1 + (2 - h0 / h1) * y2;
  return (both / 6) * weighed;
}

function lastOne(y0: number, y1: number, y2: number, h0: number, h1: number): number {
  const last = (2 * h1 * h1 + 3 * h0 * h1) / (6 * (h0 + h1));
  const middle = (h1 * h1 + 3 * h0 * h1) / (6 * h0);
  const first = (h1 * h1 * h1) / (6 * h0 * (h0 + h1));
  return last * y2 + middle * y1 - first * y0;
}
