/** Jobs: made with their steps, and mirrored to the other side. */
import type { Action } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { ItemRow } from "../types.ts";
import { view } from "../view.ts";
import { creating, lastRank } from "./actions.ts";
import { adding, type StepBody, stepsOf } from "./steps.ts";

/** A step of a new job. With `follows` it comes after the step before it in the list. */
export interface NewStep extends Omit<StepBody, "after_id"> {
  follows?: boolean;
}

export interface NewJob {
  title: string;
  zone_id?: string | null;
  afloat_ok?: boolean;
  found_while?: string | null;
  text?: string;
  steps?: NewStep[];
}

export async function createJob(body: NewJob): Promise<string> {
  const { steps = [], ...fields } = body;
  const id = newId();
  const actions = [creating("job", id, { ...fields, rank: lastRank("job") })];
  let before: string | null = null;
  for (const [index, step] of steps.entries()) {
    const { follows, ...own } = step;
    const step_id = newId();
    const linked: StepBody = follows && before ? { ...own, after_id: before } : own;
    actions.push(...adding(id, step_id, linked, (index + 1) * 1024));
    before = step_id;
  }
  await commit("create_job", actions);
  return id;
}

const COPIED_STEP = ["kind", "title", "text", "product_id", "labour_h", "crew_size", "rank"];
const COPIED_LINK = ["min_gap_s", "max_gap_s", "by_cure"];

const copied = (row: ItemRow, names: string[]) =>
  Object.fromEntries(names.map((name) => [name, row.fields[name]]));

/** Make the same job, with its steps and links, in the zone's twin on the other side. */
export async function mirrorJob(job_id: string): Promise<string> {
  const rows = view.peek();
  const job = rows.item("job", job_id);
  const zone = job && rows.item("zone", (job.fields.zone_id as string) ?? "");
  const twin_id = zone?.fields.twin_id as string | undefined;
  if (!job || !twin_id) throw new Error("This job's zone has no twin.");
  const id = newId();
  const own = copied(job, ["title", "text", "afloat_ok"]);
  const place = { zone_id: twin_id, mirror_of: job_id, rank: lastRank("job") };
  await commit("mirror_job", [creating("job", id, { ...own, ...place }), ...mirrored(job_id, id)]);
  return id;
}

function mirrored(job_id: string, id: string): Action[] {
  const twins = new Map(stepsOf(job_id).map((step) => [step.id, newId()]));
  const steps = stepsOf(job_id).map((step) =>
    creating("step", twins.get(step.id) as string, { ...copied(step, COPIED_STEP), job_id: id }),
  );
  const links = view
    .peek()
    .items("link")
    .flatMap((link) => {
      const step_id = twins.get(link.fields.step_id as string);
      const after_id = twins.get(link.fields.after_id as string);
      if (!step_id || !after_id) return [];
      return [creating("link", newId(), { ...copied(link, COPIED_LINK), step_id, after_id })];
    });
  return [...steps, ...links];
}
