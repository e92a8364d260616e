/**
 * Two people may have written down one coat: a question for a person, never a lost record.
 *
 * Two applications on one step and zone, by different people, whose times overlap or whose starts lie within two hours,
 * are asked about until somebody answers.
 */
import type { RecordRow, View } from "../types.ts";

export interface Question {
  first: RecordRow;
  second: RecordRow;
}

const NEAR_MS = 2 * 3600 * 1000;

export function findQuestions(rows: View): Question[] {
  const answered = new Set(rows.records("answer").map((row) => pairOf(rows, row)));
  const coats = rows.trees("application");
  const byPlace = new Map<string, Question["first"][]>();
  for (const { record } of coats) {
    const place = `${record.body.step_id} ${record.body.zone_id ?? ""}`;
    byPlace.set(place, [...(byPlace.get(place) ?? []), record]);
  }
  const found: Question[] = [];
  for (const records of byPlace.values()) {
    for (const [index, first] of records.entries()) {
      for (const second of records.slice(index + 1)) {
        if (maybeOne(rows, first, second) && !answered.has(pair(first.root_id, second.root_id))) {
          found.push({ first, second });
        }
      }
    }
  }
  return found;
}

const pair = (one: string, other: string): string => [one, other].sort().join(" ");

function pairOf(rows: View, { body }: RecordRow): string {
  const root = (name: string): string =>
    rows.record("application", body[name] as string)?.root_id ?? "";
  return pair(root("first_id"), root("second_id"));
}

function maybeOne(rows: View, first: RecordRow, second: RecordRow): boolean {
  if (authorOf(rows, first) === authorOf(rows, second)) return false;
  const [from, to] = span(first);
  const [start, end] = span(second);
  return Math.abs(from - start) <= NEAR_MS || (from <= end && start <= to);
}

/** Who made the first record of a chain: a correction by another person changes no author. */
function authorOf(rows: View, row: RecordRow): string {
  const root = rows.record("application", row.root_id) ?? row;
  return rows.author(root.at)?.id ?? "";
}

function span({ body }: RecordRow): [number, number] {
  const start = Date.parse(body.start_at as string);
  return [start, body.end_at ? Date.parse(body.end_at as string) : start];
}
