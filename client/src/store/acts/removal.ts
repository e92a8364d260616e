/**
 * Taking things off the board, and putting them back.
 *
 * - A job goes with its steps and their links, a step with its links, in one operation: each under what the person saw
 *   of it, so that what somebody else did unseen stays, and a person is asked.
 * - Whoever takes a deletion back gets back what went with it: what was deleted under the same stamp,
 *   and what was let go under it since.
 */
import { type Action, isGone } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { Stranded } from "../reckon/stranded.ts";
import type { Difference, ItemRow, Json } from "../types.ts";
import { view } from "../view.ts";
import { creating, lastRank, setting } from "./actions.ts";

/** The most that the server takes in one operation. */
const MOST_ACTIONS = 500;

/** Take an item away, with what only it holds together. */
export async function drop(kind: string, id: string): Promise<void> {
  await commitAll("drop", removing(kind, id));
}

/** Put a deleted item back, with what went with it. */
export async function bringBack(kind: string, id: string): Promise<void> {
  await commitAll("bring_back", restoring(kind, id));
}

/** Close differences about one field with the value that the person chose. */
export async function settle(
  differences: string[],
  kind: string,
  item_id: string,
  field: string,
  value: Json,
): Promise<void> {
  await commitAll("settle", [
    ...(field === "gone"
      ? value === true
        ? removing(kind, item_id)
        : restoring(kind, item_id, goneUnder(differences))
      : [setting(kind, item_id, { [field]: value })]),
    { do: "settle", differences },
  ]);
}

/** Keep the work under a deleted job: the job comes back, with what went with it. */
export async function keepStranded({ job_id, job, differences }: Stranded, title: string) {
  const closing = settling(differences);
  if (job) return commitAll("bring_back", [...closing, ...restoring("job", job_id)]);
  return commitAll("create_job", [...closing, ...housed(job_id, title)]);
}

/** Let the work under a deleted job go too. */
export async function letStrandedGo({ steps, differences }: Stranded): Promise<void> {
  await commitAll("drop", [...removingSteps(steps), ...settling(differences)]);
}

/** One operation, or more where there is too much for one; the last holds as much as one can. */
async function commitAll(act: string, actions: Action[]): Promise<void> {
  const first = actions.length % MOST_ACTIONS || MOST_ACTIONS;
  await commit(act, actions.slice(0, first));
  for (let from = first; from < actions.length; from += MOST_ACTIONS) {
    await commit(act, actions.slice(from, from + MOST_ACTIONS));
  }
}

const settling = (rows: readonly Difference[]): Action[] =>
  rows.length > 0 ? [{ do: "settle", differences: rows.map((row) => row.id) }] : [];

function removing(kind: string, id: string): Action[] {
  const own = setting(kind, id, { gone: true });
  if (kind === "job") return [...removingSteps(stepsUnder(view.peek().items("step"), id)), own];
  const step = kind === "step" && view.peek().item("step", id);
  return step ? removingSteps([step]) : [own];
}

/** Links first, so that the last operation of several holds the job with as many of its steps as it can. */
function removingSteps(steps: readonly ItemRow[]): Action[] {
  const ids = new Set(steps.map((step) => step.id));
  const links = view.peek().items("link").filter(touches(ids));
  return [...links, ...steps].map((row) => setting(row.kind, row.id, { gone: true }));
}

/** What brings an item back with all that went with it. */
function restoring(kind: string, id: string, went = goneWith(kind, id)): Action[] {
  const rows = view.peek();
  const steps = kind === "job" ? stepsUnder(rows.gone("step").filter(went), id) : [];
  const back = new Set([id, ...steps.map((step) => step.id)]);
  const stands = (end: Json | undefined): boolean => {
    const step = rows.item("step", end as string);
    return back.has(end as string) || (step !== undefined && !isGone(step));
  };
  const links = rows
    .gone("link")
    .filter((row) => went(row) && touches(back)(row))
    .filter(({ fields }) => stands(fields.step_id) && stands(fields.after_id));
  return [
    ...[...links, ...steps].map((row) => setting(row.kind, row.id, { gone: false })),
    setting(kind, id, { gone: false }),
  ];
}

const goneAt = (row: ItemRow): string => row.stamps.gone ?? row.at;

type Went = (row: ItemRow) => boolean;

/** Deleted under the stamp of an item's deletion, or let go since. */
function goneWith(kind: string, id: string): Went {
  const row = view.peek().item(kind, id);
  return (other) => row !== undefined && isGone(row) && goneAt(other) >= goneAt(row);
}

/** Deleted under the stamp of one of the deletions that differences are about. */
function goneUnder(ids: readonly string[]): Went {
  const rows = view.peek().differences.filter((row) => ids.includes(row.id));
  const versions = rows.flatMap(({ kept, lost }) => [kept, lost]);
  const stamps = new Set(versions.filter(({ value }) => value === true).map(({ at }) => at));
  return (other) => stamps.has(goneAt(other));
}

const stepsUnder = (steps: readonly ItemRow[], job_id: string): ItemRow[] =>
  steps.filter((step) => step.fields.job_id === job_id);

const touches =
  (ids: ReadonlySet<string>) =>
  ({ fields }: ItemRow): boolean =>
    ids.has(fields.step_id as string) || ids.has(fields.after_id as string);

/** A new job for steps whose own is not on this phone. */
function housed(job_id: string, title: string): Action[] {
  const id = newId();
  const steps = stepsUnder(view.peek().items("step"), job_id);
  return [
    creating("job", id, { title, rank: lastRank("job") }),
    ...steps.map((step) => setting("step", step.id, { job_id: id })),
  ];
}
