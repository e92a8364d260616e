/**
 * The temperature that the work has had and is going to have: the twin of `trade.temperature`.
 *
 * Rules (the server's module tells them at length)
 * - Surface before air; order does not matter; readings of one instant count as their mean.
 * - Readings at most JOIN_GAP_S apart are joined and count as measured; across a longer gap the
 *   fitted daily curve runs between them.
 * - After the last reading the fitted curve runs, the difference fading over FADE_S; the last day
 *   then repeats. Before the first reading it is held for JOIN_GAP_S, farther back it fades.
 * - The fit is ridge least squares of mean and swing over the last FIT_OVER_S.
 */

import { secondsOf } from "./instants.ts";
import { bisectLeft, last, nth } from "./lists.ts";
import type { DailyCurve, Knot, Reading, Track } from "./types.ts";

const S_PER_HOUR = 3600;
const S_PER_DAY = 86400;
export const STEP_S = 1800;
export const JOIN_GAP_S = 3 * S_PER_HOUR;
export const FADE_S = 3 * S_PER_HOUR;
export const FIT_OVER_S = 72 * S_PER_HOUR;
export const RIDGE_MEAN_N = 1;
export const RIDGE_SWING_N = 4;

interface Point {
  readonly at_s: number;
  readonly temp_c: number;
}

/** The daily cosine after fitting: mean, swing to either side, local hour of the maximum. */
export class FittedCurve {
  constructor(
    readonly mean_c: number,
    readonly swing_k: number,
    private readonly curve: DailyCurve,
  ) {}

  /** Give the temperature that the curve expects at an instant. */
  tempC(atS: number): number {
    return this.mean_c + this.swing_k * phase(atS, this.curve);
  }
}

/** Draw the temperature from an instant on, for ever. */
export function trackOf(readings: readonly Reading[], curve: DailyCurve, start_at: number): Track {
  const points = measuredPoints(readings);
  const startS = secondsOf(start_at);
  const fitted = fittedCurve(curve, points);
  const end = points.at(-1);
  if (end === undefined) {
    const knots = grid(startS, startS + S_PER_DAY).map((atS) =>
      knot(atS, fitted.tempC(atS), false),
    );
    return { knots, repeats_from: 0, last_reading_at_s: null };
  }
  const knots = pastKnots(points, fitted, startS);
  for (const atS of tailInstants(Math.max(startS, end.at_s), end.at_s).slice(1)) {
    knots.push(knot(atS, tempAt(points, fitted, atS), false));
  }
  const dayKnots = Math.round(S_PER_DAY / STEP_S);
  return { knots, repeats_from: knots.length - 1 - dayKnots, last_reading_at_s: end.at_s };
}

/** Give a track of one steady temperature. */
export function steadyTrack(temp_c: number, start_at: number, measured = true): Track {
  const startS = secondsOf(start_at);
  const knots = [knot(startS, temp_c, measured), knot(startS + S_PER_DAY, temp_c, measured)];
  return { knots, repeats_from: 0, last_reading_at_s: measured ? startS : null };
}

/** Give the track with everything below a temperature raised to it. */
export function atLeast(track: Track, temp_c: number): Track {
  const knots: Knot[] = [raised(nth(track.knots, 0), temp_c)];
  let repeatsFrom = 0;
  for (let i = 0; i + 1 < track.knots.length; i += 1) {
    const left = nth(track.knots, i);
    const right = nth(track.knots, i + 1);
    if (i === track.repeats_from) repeatsFrom = knots.length - 1;
    if ((left.temp_c - temp_c) * (right.temp_c - temp_c) < 0) {
      const share = (temp_c - left.temp_c) / (right.temp_c - left.temp_c);
      const atS = left.at_s + (right.at_s - left.at_s) * share;
      if (left.at_s < atS && atS < right.at_s) knots.push(knot(atS, temp_c, right.measured));
    }
    knots.push(raised(right, temp_c));
  }
  return { knots, repeats_from: repeatsFrom, last_reading_at_s: track.last_reading_at_s };
}

/** Give the points in order, one an instant, the surface before the air. */
export function measuredPoints(readings: readonly Reading[]): Point[] {
  const byInstant = new Map<number, number[]>();
  for (const reading of readings) {
    const temp_c = reading.surface_c ?? reading.air_c;
    if (temp_c === null) continue;
    const at_s = secondsOf(reading.at);
    byInstant.set(at_s, [...(byInstant.get(at_s) ?? []), temp_c]);
  }
  return [...byInstant]
    .sort(([one], [other]) => one - other)
    .map(([at_s, temps]) => ({ at_s, temp_c: mean(temps) }));
}

/** Fit the daily curve to the latest points: ridge least squares of its mean and swing. */
export function fittedCurve(curve: DailyCurve, points: readonly Point[]): FittedCurve {
  const meanC = (curve.min_c + curve.max_c) / 2;
  const swingK = (curve.max_c - curve.min_c) / 2;
  const lastS = points.at(-1)?.at_s ?? 0;
  let [n, sX, sXx, sD, sDx] = [0, 0, 0, 0, 0];
  for (const { at_s, temp_c } of points) {
    if (at_s < lastS - FIT_OVER_S) continue;
    const x = phase(at_s, curve);
    const difference = temp_c - meanC - swingK * x;
    n += 1;
    sX += x;
    sXx += x * x;
    sD += difference;
    sDx += difference * x;
  }
  const a = n + RIDGE_MEAN_N;
  const c = sXx + RIDGE_SWING_N;
  const determinant = a * c - sX * sX;
  return new FittedCurve(
    meanC + (c * sD - sX * sDx) / determinant,
    Math.max(0, swingK + (a * sDx - sX * sD) / determinant),
    curve,
  );
}

function knot(at_s: number, temp_c: number, measured: boolean): Knot {
  return { at_s, temp_c, measured };
}

function raised(one: Knot, temp_c: number): Knot {
  return knot(one.at_s, Math.max(one.temp_c, temp_c), one.measured);
}

function mean(temps: readonly number[]): number {
  const ordered = [...temps].sort((one, other) => one - other);
  return ordered.reduce((sum, temp_c) => sum + temp_c, 0) / ordered.length;
}

function phase(atS: number, curve: DailyCurve): number {
  const local = (atS + curve.utc_offset_s) % S_PER_DAY;
  const hour = (local < 0 ? local + S_PER_DAY : local) / S_PER_HOUR;
  return Math.cos((2 * Math.PI * (hour - curve.hour_of_max)) / 24);
}

function grid(fromS: number, toS: number): number[] {
  const n = Math.max(1, Math.ceil((toS - fromS) / STEP_S - 1e-9));
  const instants: number[] = [];
  for (let i = 0; i < n; i += 1) instants.push(fromS + i * STEP_S);
  return [...instants, toS];
}

function pastKnots(points: readonly Point[], fitted: FittedCurve, startS: number): Knot[] {
  const firstS = nth(points, 0).at_s;
  const drawn = (atS: number) => knot(atS, tempAt(points, fitted, atS), false);
  const knots = [drawn(startS)];
  if (startS < firstS) knots.push(...grid(startS, firstS).slice(1).map(drawn));
  for (let i = 1; i < points.length; i += 1) {
    const from = nth(points, i - 1);
    const to = nth(points, i);
    if (to.at_s <= startS) continue;
    const joined = to.at_s - from.at_s <= JOIN_GAP_S;
    if (!joined) {
      knots.push(...grid(Math.max(from.at_s, startS), to.at_s).slice(1, -1).map(drawn));
    }
    knots.push(knot(to.at_s, to.temp_c, joined));
  }
  return knots;
}

function tailInstants(fromS: number, lastS: number): number[] {
  const settledS = Math.max(fromS, lastS + FADE_S);
  const lead = settledS > fromS ? grid(fromS, settledS) : [settledS];
  return [...lead, ...grid(settledS, settledS + S_PER_DAY).slice(1)];
}

function tempAt(points: readonly Point[], fitted: FittedCurve, atS: number): number {
  const first = nth(points, 0);
  const end = last(points);
  const curveC = fitted.tempC(atS);
  if (atS >= end.at_s) {
    const share = Math.max(0, 1 - (atS - end.at_s) / FADE_S);
    return curveC + share * (end.temp_c - fitted.tempC(end.at_s));
  }
  if (atS < first.at_s) {
    const heldS = first.at_s - JOIN_GAP_S;
    if (atS >= heldS) return first.temp_c;
    const share = Math.max(0, 1 - (heldS - atS) / FADE_S);
    return curveC + share * (first.temp_c - fitted.tempC(heldS));
  }
  return tempBetween(points, fitted, atS, curveC);
}

function tempBetween(
  points: readonly Point[],
  fitted: FittedCurve,
  atS: number,
  curveC: number,
): number {
  const i = bisectLeft(points.length, atS, (j) => nth(points, j).at_s);
  const to = nth(points, i);
  if (to.at_s === atS) return to.temp_c;
  const from = nth(points, i - 1);
  const share = (atS - from.at_s) / (to.at_s - from.at_s);
  if (to.at_s - from.at_s <= JOIN_GAP_S) return from.temp_c + (to.temp_c - from.temp_c) * share;
  const leftK = from.temp_c - fitted.tempC(from.at_s);
  const rightK = to.temp_c - fitted.tempC(to.at_s);
  return curveC + leftK + (rightK - leftK) * share;
}
