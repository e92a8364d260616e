/** Clocks brought together by the coat or pot that they belong to, and which of them counts now. */
import { type ClockRow, clocks } from "../store/derived.ts";
import type { Key } from "../words/index.ts";
import { coatsOn, flag, linksFrom, live, text } from "./know.ts";

const CLOSING_MS = 60 * 60_000;
const POT_CLOSING_MS = 10 * 60_000;
const SAME_MS = 60_000;

/** All clocks of one coat or pot, by their kind. */
export interface Source {
  root_id: string;
  rows: Map<string, ClockRow>;
  first: ClockRow;
}

/** The clock that counts now: its instant, what it is called, and what that means. */
export interface Counting {
  row: ClockRow;
  at: number | null;
  stage: string;
  word: Key;
  tone: "open" | "closing" | "gone" | "waiting";
}

const ORDER = ["recoat_opens", "recoat_closes", "immerse_opens", "immerse_closes", "sandable"];

/** A pot counts to its end; a coat to its opening, to its closing, and stays closed while the next coat is owed. */
function leading({ rows, first }: Source): ClockRow {
  if (first.source === "mix") return rows.get("pot_life") ?? rows.get("gel") ?? first;
  const closes = rows.get("recoat_closes");
  if (closes && closes.at !== null && !closes.running && followers(first).length > 0) return closes;
  const ahead = ORDER.map((kind) => rows.get(kind)).filter((row) => row?.running);
  return ahead[0] ?? closes ?? rows.get("recoat_opens") ?? first;
}

export function counting(source: Source, now: number): Counting {
  const row = leading(source);
  const { at, kind } = row;
  const closes = row.source === "mix" || kind.endsWith("closes");
  if (!closes)
    return row.running
      ? { row, at, stage: kind, word: "clock.not_yet", tone: "waiting" }
      : { row, at, stage: kind, word: "clock.open_now", tone: "open" };
  const start = row.last_start_at;
  const early = start !== null && at !== null && at - start > SAME_MS && start > now;
  const due = early ? start : at;
  const stage = early ? `last_${kind}` : kind;
  if (due === null) return { row, at, stage, word: "clock.open_now", tone: "open" };
  if (due <= now) return { row, at, stage, word: "clock.gone", tone: "gone" };
  const soon = row.source === "mix" ? POT_CLOSING_MS : CLOSING_MS;
  if (due - now <= soon) return { row, at: due, stage, word: "clock.closing", tone: "closing" };
  const word = row.source === "mix" ? "clock.pot_runs" : "clock.open_now";
  return { row, at: due, stage, word, tone: "open" };
}

/** The steps that go by the cure of a coat. */
function followers({ source, step_id }: ClockRow): string[] {
  if (source === "mix" || !step_id) return [];
  return linksFrom(step_id)
    .filter((link) => flag(link, "by_cure"))
    .map((link) => text(link, "step_id"))
    .filter((id) => live("step", id));
}

/** A coat that is under the next one: its window has done its work. */
function covered({ first }: Source): boolean {
  const next = followers(first);
  return next.length > 0 && next.every((id) => coatsOn(id).length > 0);
}

function sourcesOf(rows: readonly ClockRow[]): Source[] {
  const found = new Map<string, Source>();
  for (const row of rows) {
    const source = found.get(row.root_id) ?? { root_id: row.root_id, rows: new Map(), first: row };
    source.rows.set(row.kind, row);
    found.set(row.root_id, source);
  }
  return [...found.values()];
}

/** Those of which some clock still runs, what is due first in front. */
export function runningSources(fits: (row: ClockRow) => boolean, now: number): Source[] {
  const due = (source: Source) => counting(source, now).at ?? Number.POSITIVE_INFINITY;
  return sourcesOf(clocks.value)
    .filter((source) => fits(source.first) && !covered(source))
    .filter((source) => [...source.rows.values()].some((row) => row.running))
    .sort((a, b) => due(a) - due(b));
}
