/**
 * What one edge of the temperature band says about a stage of a coat: the twin of `trade.edges`.
 *
 * Theory: the next coat follows the same path at the same pace, so it comes to paint laid at p exactly
 * p - S after its own start: it may start at the latest O(p) - (p - S), and must at the earliest
 * C(p) - (p - S), over both ends of the path and instants between; around the worst of them the worst
 * is sought by golden section.
 *
 * Rules
 * - recoat_opens follows the path; touch_dry, sandable and immerse_opens wait for the last paint.
 * - recoat_closes is when the last paint closes, immerse_closes when the first does.
 * - A window closes at the earlier of the dose and the table of the hottest hour.
 * - All coats of one product share one sum over the track: a phone holds hundreds of them.
 */

import { type Law, lawOf } from "./arrhenius.ts";
import { DoseLine, type Edge } from "./dose.ts";
import { closesByTable } from "./hottest_hour.ts";
import { last, nth } from "./lists.ts";
import {
  type Band,
  type Basis,
  type HottestHourRow,
  type Profile,
  type Stage,
  type StagePoint,
  type Track,
  worstBasis,
} from "./types.ts";

export const PATH_STEP_S = 1800;
export const PATH_PARTS = 24;
const GOLDEN_ROUNDS = 10;
const GOLDEN_SHARE = 0.6180339887498949;
const TIE_S = 1e-3;
export const NEVER_S = Number.POSITIVE_INFINITY;

/** What one edge says about a stage; infinity is past the horizon. */
export interface EdgeAnswer {
  readonly at_s: number;
  readonly last_start_s: number;
  readonly basis: Basis;
  readonly reasons: readonly string[];
}

export interface Edges {
  readonly as_it_stands: EdgeAnswer;
  readonly fast: EdgeAnswer;
  readonly slow: EdgeAnswer;
}

interface Paint {
  readonly at_s: number;
  readonly basis: Basis;
  readonly reasons: readonly string[];
}

/** Say whether the profile knows anything about a stage. */
export function stageKnown(profile: Profile, stage: Stage): boolean {
  const byTable = stage === "recoat_closes" && profile.closes_by_hottest_hour.length > 0;
  return byTable || (profile.stages[stage]?.length ?? 0) > 0;
}

/** Give the instants at which paint was laid that are looked at: both ends and between. */
export function pathOf(startS: number, endS: number): number[] {
  if (endS <= startS) return [startS];
  const parts = Math.min(PATH_PARTS, Math.ceil((endS - startS) / PATH_STEP_S));
  const path = [startS];
  for (let i = 1; i < parts; i += 1) path.push(startS + ((endS - startS) * i) / parts);
  return [...path, endS];
}

/** Give the three edges of a stage for paint that was laid along a path. */
export function edgesOf(
  profile: Profile,
  stage: Stage,
  track: Track,
  pathS: readonly number[],
  band: Band,
): Edges {
  const points = profile.stages[stage] ?? [];
  const law = points.length > 0 ? sharedLaw(points) : null;
  const rows = stage === "recoat_closes" ? profile.closes_by_hottest_hour : [];
  const answer = (edge: Edge) =>
    edgeAnswer(stage, pathS, new Painter(law, rows, track, nth(pathS, 0), edge, band));
  return { as_it_stands: answer(0), fast: answer(1), slow: answer(-1) };
}

/** Answers when paint laid at an instant reaches the stage, on one edge. */
class Painter {
  private readonly line: DoseLine | null;

  constructor(
    law: Law | null,
    private readonly rows: readonly HottestHourRow[],
    private readonly track: Track,
    private readonly fromS: number,
    readonly edge: Edge,
    private readonly band: Band,
  ) {
    this.line = law === null ? null : sharedLine(law, track, fromS, edge, band);
  }

  paint(laidS: number): Paint {
    const byDose = this.byDose(laidS);
    if (this.rows.length === 0) return byDose;
    const table = closesByTable(this.rows, this.track, laidS, this.edge, this.band);
    if (table.at_s > byDose.at_s + TIE_S) return byDose;
    const reasons = ["hottest_hour"];
    if (table.above_table) reasons.push("above_table");
    if (table.below_table) reasons.push("below_table");
    const basis = table.above_table ? "beyond" : "data_sheet";
    return { at_s: Math.min(table.at_s, byDose.at_s), basis, reasons };
  }

  private byDose(laidS: number): Paint {
    if (this.line === null) return { at_s: NEVER_S, basis: "data_sheet", reasons: [] };
    const reached = this.line.reached(laidS);
    if (reached === null)
      return { at_s: NEVER_S, basis: this.line.basisFrom(this.fromS), reasons: [] };
    return { at_s: reached.at_s, basis: reached.basis, reasons: [] };
  }
}

const laws = new Map<string, Law>();
const lines = new WeakMap<Track, Map<string, DoseLine>>();
const names = new WeakMap<Law, string>();
const MOST_LAWS = 500;

/** Give the law of some points; the same object for the same points. */
function sharedLaw(points: readonly StagePoint[]): Law {
  const name = JSON.stringify(points);
  const known = laws.get(name);
  if (known !== undefined) return known;
  if (laws.size >= MOST_LAWS) laws.clear();
  const law = lawOf(points);
  laws.set(name, law);
  names.set(law, name);
  return law;
}

/** Give the dose line that starts with the track, or one of its own for paint laid before the track starts. */
function sharedLine(law: Law, track: Track, fromS: number, edge: Edge, band: Band): DoseLine {
  const beginS = nth(track.knots, 0).at_s;
  if (fromS < beginS) return new DoseLine(law, track, fromS, edge, band);
  const kept = lines.get(track) ?? new Map<string, DoseLine>();
  lines.set(track, kept);
  const name = `${edge} ${band.measured_k} ${band.forecast_k} ${names.get(law)}`;
  const line = kept.get(name) ?? new DoseLine(law, track, beginS, edge, band);
  kept.set(name, line);
  return line;
}

function edgeAnswer(stage: Stage, pathS: readonly number[], painter: Painter): EdgeAnswer {
  if (stage === "recoat_opens") {
    const { start_s, paints } = worstStart(painter, pathS, 1);
    return answerOf(start_s, start_s, paints);
  }
  if (stage === "recoat_closes" && painter.edge === 1) {
    const { start_s, paints } = worstStart(painter, pathS, -1);
    return answerOf(last(paints).at_s, start_s, paints);
  }
  const decides = painter.paint(stage === "immerse_closes" ? nth(pathS, 0) : last(pathS));
  return answerOf(decides.at_s, decides.at_s, [decides]);
}

/** Give the start that all paint on the path allows: the latest (sign 1) or the earliest (-1). */
function worstStart(
  painter: Painter,
  pathS: readonly number[],
  sign: -1 | 1,
): { start_s: number; paints: Paint[] } {
  const firstS = nth(pathS, 0);
  const paints = pathS.map((laidS) => painter.paint(laidS));
  const worth = paints.map((paint, i) => sign * (paint.at_s - (nth(pathS, i) - firstS)));
  let best = Math.max(...worth);
  if (pathS.length === 1 || Math.abs(best) === NEVER_S) return { start_s: sign * best, paints };
  const i = worth.indexOf(best);
  const sought: Paint[] = [];
  const ask = (laidS: number) => {
    const paint = painter.paint(laidS);
    sought.push(paint);
    return sign * (paint.at_s - (laidS - firstS));
  };
  const low = nth(pathS, Math.max(0, i - 1));
  const high = nth(pathS, Math.min(pathS.length - 1, i + 1));
  best = Math.max(best, peak(ask, low, high));
  return { start_s: sign * best, paints: [...sought, ...paints] };
}

/** Give the highest value found by golden section between two places. */
function peak(ask: (at: number) => number, from: number, to: number): number {
  let low = from;
  let high = to;
  let left = high - GOLDEN_SHARE * (high - low);
  let right = low + GOLDEN_SHARE * (high - low);
  let atLeft = ask(left);
  let atRight = ask(right);
  let best = Math.max(atLeft, atRight);
  for (let round = 0; round < GOLDEN_ROUNDS; round += 1) {
    if (atLeft >= atRight) {
      high = right;
      right = left;
      atRight = atLeft;
      left = high - GOLDEN_SHARE * (high - low);
      atLeft = ask(left);
    } else {
      low = left;
      left = right;
      atLeft = atRight;
      right = low + GOLDEN_SHARE * (high - low);
      atRight = ask(right);
    }
    best = Math.max(best, atLeft, atRight);
  }
  return best;
}

function answerOf(atS: number, lastStartS: number, paints: readonly Paint[]): EdgeAnswer {
  return {
    at_s: atS,
    last_start_s: lastStartS,
    basis: worstBasis(paints.map((paint) => paint.basis)),
    reasons: paints.flatMap((paint) => paint.reasons),
  };
}
