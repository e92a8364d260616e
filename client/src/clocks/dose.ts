/**
 * When a stage is reached at a changing temperature: the twin of the server's `trade.dose`.
 *
 * Theory: equivalent age. In dt the stage advances by dt / tau(T); it is reached when the sum is 1.
 *
 * Rules
 * - A piece of the track is cut at the data sheet's temperatures and into parts of at most SPAN_K;
 *   each part is summed by Simpson, and the instant in the last one is found by held-in Newton.
 * - The end of a track repeats a day for ever: whole days are stepped over by their dose.
 * - The basis is the poorest met between the start and the instant.
 *
 * Source: ASTM C1074 (equivalent age), EN 1992-1-1 equation B.10.
 */

import { type Law, lawOf } from "./arrhenius.ts";
import { bisectLeft, bisectRight, last, nth } from "./lists.ts";
import {
  type Band,
  type Basis,
  type Knot,
  type StagePoint,
  type Track,
  USUAL_BAND,
} from "./types.ts";

export const SPAN_K = 2;
export const HORIZON_S = 400 * 86400;
const NEWTON_ROUNDS = 40;
const NEWTON_S = 1e-7;
const TOUCH_S = 1e-3;

/** Fast edge 1, slow edge -1, the track as it stands 0. */
export type Edge = -1 | 0 | 1;

export interface Piece {
  readonly from_s: number;
  readonly to_s: number;
  readonly from_c: number;
  readonly to_c: number;
}

export interface Reached {
  readonly at_s: number;
  readonly basis: Basis;
}

/** Say when a stage that began at an instant is reached; null when past the horizon. */
export function reach(
  points: readonly StagePoint[],
  track: Track,
  startAtS: number,
  edge: Edge = 0,
  band: Band = USUAL_BAND,
  horizonS: number = HORIZON_S,
): Reached | null {
  return new DoseLine(lawOf(points), track, startAtS, edge, band).reached(startAtS, horizonS);
}

/** Give the pieces from an instant to the end of the track's run (or of the day it lies in). */
export function* leadPieces(track: Track, fromS: number, edge: Edge, band: Band): Generator<Piece> {
  const first = nth(track.knots, 0);
  const endS = last(track.knots).at_s;
  if (fromS < first.at_s) {
    const temp_c = first.temp_c + edge * band.forecast_k;
    yield { from_s: fromS, to_s: first.at_s, from_c: temp_c, to_c: temp_c };
  }
  const period = periodS(track);
  const offsetS = fromS < endS ? 0 : period * (Math.floor((fromS - endS) / period) + 1);
  const insideS = fromS - offsetS;
  const knots = track.knots;
  const begin = Math.max(
    1,
    bisectRight(knots.length, insideS, (j) => nth(knots, j).at_s),
  );
  for (let i = begin; i < knots.length; i += 1) {
    const left = nth(knots, i - 1);
    const right = nth(knots, i);
    const shiftK = shift(right, edge, band);
    let { at_s, temp_c } = left;
    if (at_s < insideS) {
      const share = (insideS - at_s) / (right.at_s - at_s);
      at_s = insideS;
      temp_c += (right.temp_c - temp_c) * share;
    }
    yield {
      from_s: at_s + offsetS,
      to_s: right.at_s + offsetS,
      from_c: temp_c + shiftK,
      to_c: right.temp_c + shiftK,
    };
  }
}

/** Give the pieces of the repeated day, moved so that it begins at an instant. */
export function* dayPieces(track: Track, beginS: number, edge: Edge, band: Band): Generator<Piece> {
  const offsetS = beginS - nth(track.knots, track.repeats_from).at_s;
  for (let i = track.repeats_from + 1; i < track.knots.length; i += 1) {
    const left = nth(track.knots, i - 1);
    const right = nth(track.knots, i);
    const shiftK = shift(right, edge, band);
    yield {
      from_s: left.at_s + offsetS,
      to_s: right.at_s + offsetS,
      from_c: left.temp_c + shiftK,
      to_c: right.temp_c + shiftK,
    };
  }
}

/** The dose of one stage against time on one edge, summed as far as it was asked for. */
export class DoseLine {
  private readonly atS: number[];
  private readonly dose: number[] = [0];
  private readonly beyondN: number[] = [0];
  private readonly fromC: number[] = [];
  private readonly toC: number[] = [];
  private readonly pieces: Generator<Piece>;
  private daysFrom = 0;

  constructor(
    private readonly law: Law,
    track: Track,
    fromS: number,
    edge: Edge,
    band: Band,
  ) {
    this.atS = [fromS];
    this.pieces = this.allPieces(track, fromS, edge, band);
  }

  /** Say when the stage that began at an instant is reached; null when past the horizon. */
  reached(startS: number, horizonS: number = HORIZON_S): Reached | null {
    const at_s = this.atDose(this.doseAt(startS) + 1, startS + horizonS);
    if (at_s === null) return null;
    return { at_s, basis: this.law.basis(this.wentBeyond(startS, at_s)) };
  }

  /** Name the poorest basis from an instant over all that was summed: for a stage that was not reached. */
  basisFrom(fromS: number): Basis {
    return this.law.basis(this.wentBeyond(fromS, last(this.atS)));
  }

  private *allPieces(track: Track, fromS: number, edge: Edge, band: Band): Generator<Piece> {
    yield* leadPieces(track, fromS, edge, band);
    this.daysFrom = this.atS.length - 1;
    yield* dayPieces(track, last(this.atS), edge, band);
  }

  private extend(): boolean {
    const next = this.pieces.next();
    if (next.done) return false;
    const { from_s, to_s, from_c, to_c } = next.value;
    const law = this.law;
    let atS = from_s;
    let tempC = from_c;
    let rate = law.rate(from_c);
    for (const share of cuts(law.temps_c, from_c, to_c)) {
      const nextS = share === 1 ? to_s : from_s + (to_s - from_s) * share;
      const nextC = share === 1 ? to_c : from_c + (to_c - from_c) * share;
      const middleC = (tempC + nextC) / 2;
      const nextRate = law.rate(nextC);
      const part = ((nextS - atS) / 6) * (rate + 4 * law.rate(middleC) + nextRate);
      this.dose.push(last(this.dose) + part);
      this.beyondN.push(last(this.beyondN) + (law.beyond(middleC) ? 1 : 0));
      this.atS.push(nextS);
      this.fromC.push(tempC);
      this.toC.push(nextC);
      atS = nextS;
      tempC = nextC;
      rate = nextRate;
    }
    return true;
  }

  private day(): { endS: number; lengthS: number; dayDose: number } {
    const endS = last(this.atS);
    const lengthS = endS - nth(this.atS, this.daysFrom);
    return { endS, lengthS, dayDose: last(this.dose) - nth(this.dose, this.daysFrom) };
  }

  private atDose(wanted: number, horizonAtS: number): number | null {
    let dose = wanted;
    let laterS = 0;
    while (last(this.dose) < dose) {
      if (last(this.atS) > horizonAtS) return null;
      if (!this.extend()) break;
    }
    const missing = dose - last(this.dose);
    if (missing > 0) {
      const { endS, lengthS, dayDose } = this.day();
      if (((horizonAtS - endS) / lengthS) * dayDose < missing - dayDose) return null;
      const days = Math.floor(missing / dayDose) + 1;
      dose -= days * dayDose;
      laterS = days * lengthS;
    }
    const n = this.dose.length;
    const i = Math.min(
      Math.max(
        bisectLeft(n, dose, (j) => nth(this.dose, j)),
        1,
      ),
      n - 1,
    );
    const at_s = this.root(i - 1, dose - nth(this.dose, i - 1)) + laterS;
    return at_s <= horizonAtS ? at_s : null;
  }

  private doseAt(instantS: number): number {
    while (last(this.atS) < instantS && this.extend());
    let atS = instantS;
    let more = 0;
    if (last(this.atS) < atS) {
      const { endS, lengthS, dayDose } = this.day();
      const days = Math.floor((atS - endS) / lengthS) + 1;
      atS -= days * lengthS;
      more = days * dayDose;
    }
    if (atS <= nth(this.atS, 0)) return more;
    const n = this.atS.length;
    const i = Math.min(
      Math.max(
        bisectLeft(n, atS, (j) => nth(this.atS, j)),
        1,
      ),
      n - 1,
    );
    return nth(this.dose, i - 1) + this.part(i - 1, atS - nth(this.atS, i - 1)).dose + more;
  }

  private part(i: number, spanS: number): { dose: number; rate: number } {
    const fromC = nth(this.fromC, i);
    const share = spanS / (nth(this.atS, i + 1) - nth(this.atS, i));
    const endC = fromC + (nth(this.toC, i) - fromC) * share;
    const law = this.law;
    const rate = law.rate(endC);
    const dose = (spanS / 6) * (law.rate(fromC) + 4 * law.rate((fromC + endC) / 2) + rate);
    return { dose, rate };
  }

  private root(i: number, dose: number): number {
    let lowS = 0;
    let highS = nth(this.atS, i + 1) - nth(this.atS, i);
    let spanS = (highS * dose) / (nth(this.dose, i + 1) - nth(this.dose, i));
    for (let round = 0; round < NEWTON_ROUNDS; round += 1) {
      const got = this.part(i, spanS);
      if (got.dose < dose) lowS = spanS;
      else highS = spanS;
      let nextS = spanS + (dose - got.dose) / got.rate;
      if (!(lowS <= nextS && nextS <= highS)) nextS = (lowS + highS) / 2;
      const done = Math.abs(nextS - spanS) < NEWTON_S;
      spanS = nextS;
      if (done) break;
    }
    return nth(this.atS, i) + spanS;
  }

  private wentBeyond(fromS: number, toS: number): boolean {
    const at = (j: number) => nth(this.atS, j);
    let i = bisectRight(this.atS.length, fromS + TOUCH_S, at) - 1;
    let j = bisectLeft(this.atS.length, toS - TOUCH_S, at);
    if (j >= this.atS.length) {
      j = this.atS.length - 1;
      i = Math.min(i, this.daysFrom);
    }
    return nth(this.beyondN, j) > nth(this.beyondN, Math.max(0, i));
  }
}

function periodS(track: Track): number {
  return last(track.knots).at_s - nth(track.knots, track.repeats_from).at_s;
}

function shift(right: Knot, edge: Edge, band: Band): number {
  return edge * (right.measured ? band.measured_k : band.forecast_k);
}

/** Give the shares of a piece at which its parts end, the last being 1. */
function cuts(temps_c: readonly number[], fromC: number, toC: number): number[] {
  const lowC = Math.min(fromC, toC);
  const highC = Math.max(fromC, toC);
  const inner = temps_c.filter((temp_c) => lowC < temp_c && temp_c < highC);
  if (inner.length === 0 && highC - lowC <= SPAN_K) return [1];
  const riseK = toC - fromC;
  const shares = new Set(inner.map((temp_c) => (temp_c - fromC) / riseK));
  const n = Math.ceil(Math.abs(riseK) / SPAN_K - 1e-9);
  for (let i = 1; i < n; i += 1) shares.add(i / n);
  const ordered = [...shares].filter((share) => share > 0 && share < 1);
  ordered.sort((one, other) => one - other);
  return [...ordered, 1];
}
