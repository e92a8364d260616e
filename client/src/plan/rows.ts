/** The rows of the timeline: each with its bars, by person or by zone. */
import { type Axis, xOf } from "./axis.ts";
import { lanesOf, type Reach, roomOf } from "./lanes.ts";
import { type PlanStep, piecesOf } from "./types.ts";

/** A glove's finger. */
export const TAP_PX = 48;

/** A window that stays open for long is drawn no further than so many px past the start. */
const WINDOW_MOST_PX = 220;

/** One stretch of work in a row, with what hangs on it. Measures in px along the line. */
export interface Bar {
  step: PlanStep;
  start: number;
  end: number;
  x: number;
  width: number;
  lane: number;
  /** All that it takes of its lane. */
  reach: Reach;
  /** Where its words must end. */
  room: number;
  /** Only on a step's last stretch. */
  cure: Reach | null;
  /** Only on a step's first stretch; `goes_on` where it closes further on. */
  window: (Reach & { goes_on: boolean }) | null;
  missed: boolean;
}

export interface Row {
  id: string;
  bars: Bar[];
  lanes: number;
}

type Draft = Omit<Bar, "lane" | "reach" | "room">;

/**
 * Put the steps of a plan into rows. `rowsFor` names the rows of each stretch; rows come in the order of `order`, those
 * that it does not name after them.
 */
export function makeRows(
  steps: readonly PlanStep[],
  axis: Axis,
  rowsFor: (step: PlanStep, member_ids: readonly string[]) => readonly string[],
  order: readonly string[],
): Row[] {
  const drafts = new Map<string, Draft[]>();
  for (const step of steps) {
    const pieces = piecesOf(step);
    pieces.forEach((piece, n) => {
      const bar = draw(step, Date.parse(piece.start_at), Date.parse(piece.end_at), axis, {
        first: n === 0,
        last: n === pieces.length - 1,
      });
      if (bar === null) return;
      for (const id of rowsFor(step, piece.member_ids)) {
        const known = drafts.get(id);
        if (known) known.push(bar);
        else drafts.set(id, [bar]);
      }
    });
  }
  const rank = new Map(order.map((id, n) => [id, n]));
  return [...drafts]
    .sort(([a], [b]) => (rank.get(a) ?? order.length) - (rank.get(b) ?? order.length))
    .map(([id, bars]) => pack(id, bars, axis.width));
}

/** Null where it lies outside the line. */
function draw(
  step: PlanStep,
  start: number,
  end: number,
  axis: Axis,
  { first, last }: { first: boolean; last: boolean },
): Draft | null {
  const [from, to] = [axis.stretches[0]?.from ?? 0, axis.stretches.at(-1)?.to ?? 0];
  const cured = last && step.cure_until_at ? Date.parse(step.cure_until_at) : end;
  if (Math.max(end, cured) <= from || start >= to) return null;
  const x = xOf(axis, start);
  const x_end = xOf(axis, end);
  const cure = cured > end ? { from: x_end, to: xOf(axis, cured) } : null;
  const window = first ? windowOf(step, x, axis) : null;
  return { step, start, end, x, width: x_end - x, cure, window, missed: first && step.missed };
}

function windowOf(step: PlanStep, x: number, axis: Axis): Bar["window"] {
  if (step.opens_at === null && step.closes_at === null) return null;
  const from = step.opens_at === null ? x : xOf(axis, Date.parse(step.opens_at));
  const closes = step.closes_at === null ? axis.width : xOf(axis, Date.parse(step.closes_at));
  const most = Math.max(x, from) + WINDOW_MOST_PX;
  return { from, to: Math.min(closes, most), goes_on: step.closes_at === null || closes > most };
}

/** All that a bar takes of its lane: itself with room for a finger, its cure and its window. */
function reachOf({ x, width, cure, window }: Draft): Reach {
  return {
    from: Math.min(x, window?.from ?? x),
    to: Math.max(x + Math.max(width, TAP_PX), cure?.to ?? 0, window?.to ?? 0),
  };
}

function pack(id: string, drafts: Draft[], width: number): Row {
  const sorted = [...drafts].sort((a, b) => a.start - b.start);
  const reaches = sorted.map(reachOf);
  const { lane, count } = lanesOf(reaches);
  const room = roomOf(reaches, lane, width + 400);
  const bars = sorted.map((bar, n) => ({
    ...{ ...bar, lane: lane[n] ?? 0, reach: reaches[n] as Reach, room: room[n] ?? width },
  }));
  return { id, bars, lanes: count };
}

/** The stretches that a list by day shows: each day's in order of their beginning, with their step. */
export interface DayLine {
  step: PlanStep;
  start: number;
  end: number;
  member_ids: string[];
  first: boolean;
}

export function linesOf(steps: readonly PlanStep[]): DayLine[] {
  return steps
    .flatMap((step) =>
      piecesOf(step).map((piece, n) => ({
        ...{ step, start: Date.parse(piece.start_at), end: Date.parse(piece.end_at) },
        ...{ member_ids: piece.member_ids, first: n === 0 },
      })),
    )
    .sort((a, b) => a.start - b.start || a.end - b.end);
}
