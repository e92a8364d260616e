/** What follows from the view, the time and the cure clocks. */
import { computed, type ReadonlySignal } from "@preact/signals";
import type { StepState as Story } from "../clocks/steps.ts";
import type { Clock } from "../clocks/types.ts";
import { me } from "./accounts.ts";
import { now } from "./now.ts";
import { findQuestions, type Question } from "./reckon/questions.ts";
import { ClockBook, type Source } from "./reckon/sources.ts";
import { coatsByStep, StepStories } from "./reckon/steps.ts";
import { findStranded, type Stranded } from "./reckon/stranded.ts";
import type { Difference, ItemRow, RecordRow, View } from "./types.ts";
import { viewSignal } from "./viewSignal.ts";

export type { Question, Stranded };

export type StepState =
  | "waiting"
  | "ready"
  | "under_way"
  | "curing"
  | "held"
  | "finished"
  | "signed_off";

/** One clock of an application or a mix. Instants are milliseconds since 1970; null where there is no answer. */
export interface ClockRow {
  /** `${root_id}.${kind}`: the same for every correction of one record. */
  alarm_id: string;
  /** The stage, as clocks/ names it: pot_life gel touch_dry recoat_opens recoat_closes sandable immerse_opens ... */
  kind: string;
  source: "application" | "mix";
  root_id: string;
  record_id: string;
  started_at: number;
  /** The edge that a person goes by: the slow one for what opens, the fast one for what closes. */
  at: number | null;
  fast_at: number | null;
  slow_at: number | null;
  /** The latest start of the next coat, or the latest immersion, that still reaches the window. */
  last_start_at: number | null;
  basis: string;
  stale: boolean;
  reasons: string[];
  /** The governing edge lies ahead. */
  running: boolean;
  step_id: string | null;
  zone_id: string | null;
  job_id: string | null;
  product_id: string | null;
  member_id: string | null;
  product_name: string;
  zone_name: string;
  job_title: string;
  step_title: string;
}

export interface StepRow {
  step: ItemRow;
  state: StepState;
  job: ItemRow | undefined;
  zone: ItemRow | undefined;
  product: ItemRow | undefined;
  assignees: string[];
  mine: boolean;
  clocks: ClockRow[];
  /** The steps that this one still waits for. */
  waits_for: string[];
}

const QUANTUM_MS = 15_000;

/** The states change with the hours, not with the seconds. */
const moment = computed(() => Math.floor(now.value / QUANTUM_MS) * QUANTUM_MS);

const book = new ClockBook();

/** Keep the value that is there while nothing in it changes, so that nothing is drawn again. */
export function steady<T>(make: () => T, key: (value: T) => string): ReadonlySignal<T> {
  let kept: { value: T; key: string } | null = null;
  return computed(() => {
    const value = make();
    const found = key(value);
    if (kept?.key !== found) kept = { value, key: found };
    return kept.value;
  });
}

export const sources = computed(() => book.sources(viewSignal.value, moment.value));

export const coats = computed(() => coatsByStep(sources.value));

/** The state of each step with why, and until when. */
export const stepStories: ReadonlySignal<ReadonlyMap<string, Story>> = steady(
  () => new StepStories(viewSignal.value, coats.value, moment.value).all(),
  (stories) => JSON.stringify([...stories]),
);

/** The state of each step by its id. */
export const stepStates: ReadonlySignal<Map<string, StepState>> = computed(
  () => new Map([...stepStories.value].map(([id, story]) => [id, story.state])),
);

/** Every clock of every coat and pot; those that still run first, what is due first in front. */
export const clocks: ReadonlySignal<ClockRow[]> = steady(
  () => {
    const rows = sources.value.flatMap((source) =>
      source.clocks.map((clock) => clockRow(viewSignal.value, source, clock, moment.value)),
    );
    const at = (row: ClockRow): number => row.at ?? Number.POSITIVE_INFINITY;
    return rows.sort((a, b) => Number(b.running) - Number(a.running) || at(a) - at(b) || 0);
  },
  (rows) => JSON.stringify(rows),
);

function clockRow(rows: View, source: Source, clock: Clock, now_at: number): ClockRow {
  const step = rows.item("step", source.step_id ?? "");
  const job = rows.item("job", (step?.fields.job_id as string | undefined) ?? "");
  const zone_id = source.zone_id ?? (job?.fields.zone_id as string | undefined) ?? null;
  const word = (row: ItemRow | undefined, name: string): string =>
    (row && rows.field<string | null>(row, name)) ?? "";
  const { stage: kind, governing_at, fast_at, slow_at, last_start_at, basis, stale } = clock;
  return {
    alarm_id: `${source.id}.${kind}`,
    kind,
    source: source.is_pot ? "mix" : "application",
    root_id: source.id,
    record_id: source.record_id,
    started_at: source.start_at,
    at: governing_at,
    fast_at,
    slow_at,
    last_start_at,
    basis,
    stale,
    reasons: [...clock.reasons],
    running: governing_at !== null && governing_at > now_at,
    step_id: source.step_id,
    zone_id,
    job_id: job?.id ?? null,
    product_id: source.product_id,
    member_id: source.authors[0] || null,
    product_name: word(rows.item("product", source.product_id), "name"),
    zone_name: word(rows.item("zone", zone_id ?? ""), "name"),
    job_title: word(job, "title"),
    step_title: word(step, "title"),
  };
}

const ORDER: readonly StepState[] = ["under_way", "curing", "ready", "waiting", "held"];

/** The steps that are mine or nobody's, those under way first, then curing, ready, waiting and held. */
export const myDay: ReadonlySignal<StepRow[]> = computed(() => {
  const rows = viewSignal.value;
  const own = me.value?.member_id ?? "";
  const clocksOf = grouped(clocks.value);
  const found = rows.items("step").flatMap((step) => {
    const row = stepRow(rows, step, own, clocksOf.get(step.id) ?? []);
    const free = row.assignees.length === 0;
    const gone = row.job === undefined || rows.field<boolean>(row.job, "gone");
    return (row.mine || free) && !gone && ORDER.includes(row.state) ? [row] : [];
  });
  const rank = (row: StepRow): number => ORDER.indexOf(row.state) * 2 + (row.mine ? 0 : 1);
  return found.sort((a, b) => rank(a) - rank(b));
});

function grouped(rows: readonly ClockRow[]): Map<string, ClockRow[]> {
  const groups = new Map<string, ClockRow[]>();
  for (const row of rows) {
    groups.set(row.step_id ?? "", [...(groups.get(row.step_id ?? "") ?? []), row]);
  }
  return groups;
}

function stepRow(rows: View, step: ItemRow, own: string, running: ClockRow[]): StepRow {
  const story = stepStories.value.get(step.id);
  const job = rows.item("job", step.fields.job_id as string);
  const assignees = rows.members(step, "assignees");
  const before = story?.why.filter(
    (why) => why.code.startsWith("before_") || why.code === "min_gap",
  );
  return {
    step,
    state: story?.state ?? "waiting",
    job,
    zone: rows.item("zone", (job?.fields.zone_id as string | undefined) ?? ""),
    product: rows.item("product", (step.fields.product_id as string | undefined) ?? ""),
    assignees,
    mine: assignees.includes(own),
    clocks: running,
    waits_for: before?.flatMap((why) => why.params.step_id ?? []) ?? [],
  };
}

/** Pairs of records that may be one coat, written down by two people. */
export const questions: ReadonlySignal<Question[]> = computed(() =>
  findQuestions(viewSignal.value),
);

/** Work under deleted jobs, that whoever deleted them had not seen. */
export const stranded: ReadonlySignal<Stranded[]> = computed(() => findStranded(viewSignal.value));

/** The differences that are a question of their own. */
export const differences: ReadonlySignal<Difference[]> = computed(() => {
  const covered = new Set(stranded.value.flatMap((one) => one.differences));
  return viewSignal.value.differences.filter((row) => !covered.has(row));
});

/** The reading that was taken last. */
export const latestReading: ReadonlySignal<RecordRow | null> = computed(() => {
  const taken = (row: RecordRow): number => Date.parse(row.body.taken_at as string);
  return viewSignal.value
    .records("reading")
    .reduce<RecordRow | null>((last, row) => (last && taken(last) > taken(row) ? last : row), null);
});
