/** Who is to be warned of what, and what rings for me now; not in the first load, since it comes with the ringing. */
import { computed, type ReadonlySignal } from "@preact/signals";
import { me } from "./accounts.ts";
import { isSettled, putOffUntil } from "./alarm_marks.ts";
import { coats, sources, steady, stepStories } from "./derived.ts";
import { now } from "./now.ts";
import { type PersonalWarning, personalWarnings } from "./reckon/warnings.ts";
import { handedAt } from "./told.ts";
import type { ItemRow, View } from "./types.ts";
import { viewSignal } from "./viewSignal.ts";

/** A warning that is owed to people. */
export interface WarningRow {
  alarm_id: string;
  kind: string;
  due_at: number;
  /** After this there is nothing left to be done about it. */
  useless_at: number;
  params: Readonly<Record<string, string | boolean>>;
  /** What it is about: a step, a job, a zone, a tin, as far as it is about any. */
  step_id: string | null;
  job_id: string | null;
  zone_id: string | null;
  product_id: string | null;
  is_pot: boolean;
  recipients: string[];
  /** Seen by me, or dealt with by anybody. */
  seen: boolean;
}

/** A warning that never loses its use is shown for a day; after that it is for the lists. */
const DAY_MS = 24 * 3600 * 1000;
const QUARTER_MS = 900_000;

/** Of the present instant the warnings need no more than the zone's offset, which changes at quarters of an hour. */
const quarter = computed(() => Math.floor(now.value / QUARTER_MS) * QUARTER_MS);

/** Every warning with those whom it is for; people with other leads of time make other rows. */
export const warnings: ReadonlySignal<WarningRow[]> = computed(() => {
  const rows = viewSignal.value;
  const found = new Map<string, WarningRow>();
  const personal = personalWarnings(
    rows,
    sources.value,
    coats.value,
    stepStories.value,
    quarter.value,
  );
  for (const one of personal) {
    const key = `${one.warning.id} ${one.warning.due_at}`;
    const row = found.get(key) ?? warningRow(rows, one);
    row.recipients.push(one.member_id);
    found.set(key, row);
  }
  return [...found.values()].sort((a, b) => a.due_at - b.due_at);
});

function warningRow(rows: View, { warning, source, step_id }: PersonalWarning): WarningRow {
  const { id, kind, due_at, useless_after, params } = warning;
  const step = rows.item("step", step_id ?? "");
  const job = rows.item("job", (step?.fields.job_id as string | undefined) ?? "");
  const named = (row: ItemRow | undefined, name: string): string | null =>
    (row?.fields[name] as string | undefined) ?? null;
  return {
    ...{ alarm_id: id, kind, due_at, useless_at: useless_after ?? due_at + DAY_MS, params },
    step_id,
    job_id: job?.id ?? null,
    zone_id: source?.zone_id ?? named(job, "zone_id"),
    product_id: source?.product_id ?? named(step, "product_id"),
    is_pot: source?.is_pot ?? false,
    recipients: [],
    seen: isSettled(id, due_at),
  };
}

/** A warning as it is mine: mine by itself, or handed on to me, and as I put it off. */
function asMine(row: WarningRow): WarningRow | null {
  const own = row.recipients.includes(me.value?.member_id ?? "");
  const due_at = own ? row.due_at : handedAt.value.get(row.alarm_id);
  if (due_at === undefined || isSettled(row.alarm_id, due_at)) return null;
  return { ...row, due_at: putOffUntil(row.alarm_id, due_at, row.useless_at) };
}

/** Mine or handed on to me, due, still of use, not seen, not put off: what the notice across the screen shows. */
export const ringing: ReadonlySignal<WarningRow[]> = steady(
  () => {
    const at = now.value;
    const found = new Map<string, WarningRow>();
    for (const warning of warnings.value) {
      const row = at < warning.useless_at ? asMine(warning) : null;
      if (row && row.due_at <= at && !found.has(row.alarm_id)) found.set(row.alarm_id, row);
    }
    return [...found.values()];
  },
  (rows) => JSON.stringify(rows),
);
