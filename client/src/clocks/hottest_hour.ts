/**
 * When a window closes by a table of the hottest hour: the twin of the server's module.
 *
 * Theory: row j comes into force at the first instant by which a temperature above row j-1 was held
 * for an hour without a break. From then on the window closes at the row's time after the coat, or at
 * once when that is past. It closes at the earliest over all rows.
 *
 * Source: UFGS-09971, 3.7.1.4, polyurethane over polyurethane.
 */

import { dayPieces, type Edge, leadPieces, type Piece } from "./dose.ts";
import { last, nth } from "./lists.ts";
import type { Band, HottestHourRow, Track } from "./types.ts";

const S_PER_HOUR = 3600;
const S_PER_MINUTE = 60;

export interface ClosedByTable {
  readonly at_s: number;
  readonly above_table: boolean;
  readonly below_table: boolean;
}

/** Say when the table closes the window of paint laid at an instant. */
export function closesByTable(
  rows: readonly HottestHourRow[],
  track: Track,
  startS: number,
  edge: Edge,
  band: Band,
): ClosedByTable {
  const firstCloseS = startS + nth(rows, 0).closes_minutes * S_PER_MINUTE;
  const thresholds = [nth(rows, 0).from_c, ...rows.map((row) => row.to_c)];
  const held = thresholds.map((aboveC) =>
    heldAt(endlessPieces(track, startS, edge, band), aboveC, firstCloseS),
  );
  let closesS = firstCloseS;
  for (let i = 1; i < rows.length; i += 1) {
    const heldS = nth(held, i);
    if (heldS === null) continue;
    const rowS = startS + nth(rows, i).closes_minutes * S_PER_MINUTE;
    closesS = Math.min(closesS, Math.max(rowS, heldS));
  }
  const aboveS = last(held);
  const warmS = nth(held, 0);
  return {
    at_s: closesS,
    above_table: aboveS !== null && aboveS <= closesS,
    below_table: warmS === null || warmS > closesS,
  };
}

function* endlessPieces(track: Track, fromS: number, edge: Edge, band: Band): Generator<Piece> {
  let atS = fromS;
  for (const piece of leadPieces(track, fromS, edge, band)) {
    atS = piece.to_s;
    yield piece;
  }
  for (;;) {
    for (const piece of dayPieces(track, atS, edge, band)) {
      atS = piece.to_s;
      yield piece;
    }
  }
}

function heldAt(pieces: Generator<Piece>, aboveC: number, untilS: number): number | null {
  let runFromS: number | null = null;
  let runToS = 0;
  for (const piece of pieces) {
    if (piece.from_s >= untilS) return null;
    const span = above(piece, aboveC);
    if (span === null) continue;
    if (runFromS === null || span.from_s > runToS) runFromS = span.from_s;
    runToS = span.to_s;
    if (runToS - runFromS >= S_PER_HOUR) return runFromS + S_PER_HOUR;
  }
  return null;
}

function above(piece: Piece, aboveC: number): { from_s: number; to_s: number } | null {
  const { from_s, to_s, from_c, to_c } = piece;
  if (from_c <= aboveC && to_c <= aboveC) return null;
  if (from_c > aboveC && to_c > aboveC) return { from_s, to_s };
  const crossingS = from_s + ((aboveC - from_c) / (to_c - from_c)) * (to_s - from_s);
  return from_c > aboveC ? { from_s, to_s: crossingS } : { from_s: crossingS, to_s };
}
