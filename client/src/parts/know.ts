/** Questions that every screen asks of the view: names, who may, which zone, which step comes next. */
import { clocks, type StepRow, stepStates } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { type ItemRow, type Json, me, view } from "../store/view.ts";
import { dayOf, leftInWords, whenInWords } from "../words/dates.ts";
import { language, say, sayOf } from "../words/index.ts";

export const text = (row: ItemRow | undefined, name: string): string =>
  row ? ((view.value.field<Json>(row, name) as string | null) ?? "") : "";

export const amount = (row: ItemRow | undefined, name: string): number | null =>
  row ? view.value.field<number | null>(row, name) : null;

export const flag = (row: ItemRow | undefined, name: string): boolean =>
  row ? view.value.field<Json>(row, name) === true : false;

export const item = (kind: string, id: string | null | undefined): ItemRow | undefined =>
  id ? view.value.item(kind, id) : undefined;

/** A live item: not taken off the board. */
export const live = (kind: string, id: string | null | undefined): ItemRow | undefined => {
  const row = item(kind, id);
  return row && !flag(row, "gone") ? row : undefined;
};

export const canWork = () => me.value !== null && me.value.role !== "viewer";
export const isOwner = () => me.value?.role === "owner";
export const myself = () => item("member", me.value?.member_id);

export const refit = () => item("refit", me.value?.refit_id);

/** The time zone of the yard; the phone's own until the refit has arrived. */
export const yardZone = () =>
  text(refit(), "time_zone") || Intl.DateTimeFormat().resolvedOptions().timeZone;

/** `today 14:20` in the yard, for milliseconds or for an instant's text. */
export const when = (at: number | string) =>
  whenInWords(typeof at === "string" ? Date.parse(at) : at, now.value, yardZone());

export const left = (at: number) => leftInWords(at, now.value);
export const today = () => dayOf(now.value, yardZone());

/** The instant that is written into a stamp. */
export const stampMs = (stamp: string) => Number.parseInt(stamp.slice(0, 12), 16);

export const memberName = (id: string | null | undefined) =>
  text(item("member", id), "name") || say("record.somebody");

export const authorName = (stamp: string) =>
  text(view.value.author(stamp), "name") || say("record.somebody");

export const zoneName = (id: string | null | undefined) => text(item("zone", id), "name");

/** The zones that one is part of, the outermost first, and itself. */
function zoneLine(id: string | null | undefined): string[] {
  const names: string[] = [];
  let row = item("zone", id);
  for (let depth = 0; row && depth < 8; depth += 1) {
    names.unshift(text(row, "name"));
    row = item("zone", text(row, "parent_id"));
  }
  return names;
}

/** `Port hull, aft`: a zone with the zones that it is part of. */
export const zonePath = (id: string | null | undefined) => zoneLine(id).join(", ");

/** `Aft, Port hull`: the zone itself in front, since lists of a phone cut the end. */
export const zoneLabel = (id: string) => zoneLine(id).reverse().join(", ");

/** `Port, below waterline: Antifouling`: enough to find a job by. */
export const jobPlace = (zone_id: string | null | undefined, title: string) =>
  [zoneName(zone_id), title].filter(Boolean).join(": ");

export const twinOf = (zone_id: string | null | undefined) =>
  live("zone", text(item("zone", zone_id), "twin_id"));

export const stepName = (step: ItemRow | undefined) =>
  step ? text(step, "title") || sayOf("kind", text(step, "kind")) : "";

/** A product by its name; by its profile's name in the person's language where nobody renamed it. */
export function productName(id: string | null | undefined): string {
  const row = item("product", id);
  const name = text(row, "name");
  const names = (row?.fields.profile as { name?: Record<string, string> } | null)?.name ?? {};
  return Object.values(names).includes(name) ? (names[language()] ?? name) : name;
}

export const stepsOf = (job_id: string) =>
  view.value.items("step").filter((step) => step.fields.job_id === job_id);

export const linksTo = (step_id: string) =>
  view.value.items("link").filter((link) => link.fields.step_id === step_id);

/** The steps that come after one, with the link between. */
export const linksFrom = (step_id: string) =>
  view.value.items("link").filter((link) => link.fields.after_id === step_id);

/** Kinds that put something on the boat, so that a coat is logged and its clock runs. */
export const APPLIED = new Set(["laminate", "fillet", "fair", "coat", "bed"]);

export const isApplied = (step: ItemRow) => APPLIED.has(text(step, "kind"));

/** The coat on a step that was started and not ended. */
export const openCoat = (step_id: string) =>
  view.value
    .records("application")
    .filter((row) => row.body.step_id === step_id && !row.body.end_at)
    .at(-1);

export const coatsOn = (step_id: string) =>
  view.value.records("application").filter((row) => row.body.step_id === step_id);

/** The last mark on a step, by the instants at which things were so. */
export const lastMarkOf = (step_id: string) =>
  view.value
    .records("mark")
    .filter((row) => row.body.step_id === step_id)
    .sort((a, b) => String(a.body.marked_at).localeCompare(String(b.body.marked_at)))
    .at(-1);

export const DONE = new Set(["finished", "signed_off"]);

const stateOf = (step_id: string) => stepStates.value.get(step_id) ?? "waiting";

/** A step with all that a line of the board shows of it. */
export function stepRow(step: ItemRow): StepRow {
  const job = item("job", text(step, "job_id"));
  const assignees = view.value.members(step, "assignees");
  const before = linksTo(step.id).map((link) => text(link, "after_id"));
  return {
    step,
    job,
    state: stateOf(step.id),
    zone: item("zone", text(job, "zone_id")),
    product: item("product", text(step, "product_id")),
    assignees,
    mine: assignees.includes(me.value?.member_id ?? ""),
    clocks: clocks.value.filter((clock) => clock.step_id === step.id),
    waits_for: before.filter((id) => live("step", id) && !DONE.has(stateOf(id))),
  };
}

export type JobState = StepRow["state"];

/** What is true of a whole job, from its steps: the word that tells most. */
export function jobState(job_id: string): JobState {
  const states = stepsOf(job_id).map((step) => stateOf(step.id));
  if (states.length === 0) return "waiting";
  if (states.every((state) => state === "signed_off")) return "signed_off";
  if (states.every((state) => DONE.has(state))) return "finished";
  const order: JobState[] = ["under_way", "curing", "held", "ready"];
  return order.find((state) => states.includes(state)) ?? "waiting";
}

/** One colour for one meaning, wherever a state is shown. */
export const toneOf = (state: JobState): string =>
  ({
    waiting: "plain",
    ready: "open",
    under_way: "open",
    curing: "waiting",
    held: "closing",
    finished: "plain",
    signed_off: "plain",
  })[state];
