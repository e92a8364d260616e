/**
 * What persons said of alarms: seen, put off, done; by the rules of the server's `reckoning.standing_marks`.
 *
 * - Seen and put off count for the person who said so, done for everybody whom the alarm was for.
 * - Seen and done cover what was due at most a minute after they were said.
 * - Put off counts from the last time that it was said, for what was due by then, unless it was seen since; not beyond
 *   the use of the warning.
 */
import { computed } from "@preact/signals";
import { me } from "./accounts.ts";
import type { RecordRow } from "./types.ts";
import { viewSignal } from "./viewSignal.ts";

/** Two instants that are nearer than this are the same alarm to a person. */
export const SAME_MS = 60_000;

const instant = (row: RecordRow, name: string): number => Date.parse(String(row.body[name]));
const idOf = (row: RecordRow): string => String(row.body.alarm_id);

const mine = (kind: string): RecordRow[] => {
  const rows = viewSignal.value;
  const own = me.value?.member_id;
  return rows.records(kind).filter((row) => rows.author(row.at)?.id === own);
};

function latest(rows: readonly RecordRow[], name: string): Map<string, number> {
  const found = new Map<string, number>();
  for (const row of rows) {
    const at = instant(row, name);
    if (at > (found.get(idOf(row)) ?? Number.NEGATIVE_INFINITY)) found.set(idOf(row), at);
  }
  return found;
}

/** When I saw each alarm last. */
const seenAt = computed(() => latest(mine("seen"), "seen_at"));

/** When anybody said last that an alarm is dealt with. */
const handledAt = computed(() => latest(viewSignal.value.records("handled"), "handled_at"));

/** The last time that I put each alarm off: when, and until when. */
const snoozed = computed(() => {
  const found = new Map<string, { made: number; until: number }>();
  for (const row of mine("snoozed")) {
    const next = { made: instant(row, "snoozed_at"), until: instant(row, "until_at") };
    const known = found.get(idOf(row));
    if (!known || next.made > known.made || (next.made === known.made && next.until > known.until))
      found.set(idOf(row), next);
  }
  return found;
});

/** I saw it, or somebody dealt with it. */
export function isSettled(alarm_id: string, due_at: number): boolean {
  const covers = (at: number | undefined): boolean => at !== undefined && due_at <= at + SAME_MS;
  return covers(seenAt.value.get(alarm_id)) || covers(handledAt.value.get(alarm_id));
}

/** When an alarm is due for me, as I put it off. */
export function putOffUntil(alarm_id: string, due_at: number, useless_at: number): number {
  const said = snoozed.value.get(alarm_id);
  if (!said || said.until <= due_at || said.made + SAME_MS < due_at) return due_at;
  const seen = seenAt.value.get(alarm_id) ?? Number.NEGATIVE_INFINITY;
  return seen >= said.made || said.until > useless_at ? due_at : said.until;
}
