/** Steps: their order, what follows what, who does them, what holds them. */
import type { Action } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { ItemRow } from "../types.ts";
import { view } from "../view.ts";
import { creating, puttingIn, setting, takingOut, touching } from "./actions.ts";

export interface StepBody {
  kind: string;
  title?: string;
  text?: string;
  product_id?: string | null;
  tack?: boolean;
  after_id?: string | null;
  min_gap_s?: number;
  max_gap_s?: number | null;
  by_cure?: boolean;
  labour_h?: number | null;
  crew_size?: number;
  held?: "parts" | "weather" | "help" | "question" | null;
  held_text?: string;
  assignees?: string[];
}

/** The steps of a job, in their order. */
export function stepsOf(job_id: string): ItemRow[] {
  return view
    .peek()
    .items("step")
    .filter((step) => step.fields.job_id === job_id);
}

const rankOf = (row: ItemRow): number => view.peek().field<number>(row, "rank");

/** The actions that add one step, with its link where it follows another. */
export function adding(job_id: string, id: string, body: StepBody, rank: number): Action[] {
  const { after_id, min_gap_s, max_gap_s, by_cure, assignees, ...own } = body;
  const actions = [creating("step", id, { ...own, job_id, rank }, { assignees: assignees ?? [] })];
  if (after_id) {
    const link = { step_id: id, after_id, min_gap_s, max_gap_s, by_cure };
    actions.push(creating("link", newId(), link));
  }
  return actions;
}

export async function addStep(job_id: string, body: StepBody): Promise<string> {
  const id = newId();
  const rank = Math.max(0, ...stepsOf(job_id).map(rankOf)) + 1024;
  const after = touching({ step_id: body.after_id });
  await commit("add_step", [...adding(job_id, id, body, rank), ...after]);
  return id;
}

/** Move a step before (-1) or behind (+1) its neighbour in the job. */
export async function moveStep(step_id: string, direction: -1 | 1): Promise<void> {
  const step = view.peek().item("step", step_id);
  if (step === undefined) return;
  const all = stepsOf(step.fields.job_id as string);
  const place = all.findIndex((row) => row.id === step_id);
  const near = all[place + direction];
  if (near === undefined) return;
  const far = all[place + 2 * direction];
  const rank = far ? (rankOf(near) + rankOf(far)) / 2 : rankOf(near) + direction * 1024;
  const crowded = rank === rankOf(near) || (far !== undefined && rank === rankOf(far));
  await commit("move_step", crowded ? ranksAnew(all, place, direction) : [ranked(step_id, rank)]);
}

const ranked = (id: string, rank: number): Action => setting("step", id, { rank });

/** Where two neighbours leave no room between them, every step of the job gets a new rank. */
function ranksAnew(all: ItemRow[], place: number, direction: number): Action[] {
  const order = all.map((row) => row.id);
  const [moved] = order.splice(place, 1);
  order.splice(place + direction, 0, moved as string);
  return order.map((id, index) => ranked(id, (index + 1) * 1024));
}

export async function linkSteps(
  step_id: string,
  after_id: string,
  gaps: { min_gap_s?: number; max_gap_s?: number | null; by_cure?: boolean } = {},
): Promise<string> {
  const id = newId();
  const link = creating("link", id, { step_id, after_id, ...gaps });
  await commit("link_steps", [link, ...touching({ step_id }), ...touching({ step_id: after_id })]);
  return id;
}

export async function assign(step_id: string, member_id: string): Promise<void> {
  await commit("assign", [puttingIn("step", step_id, "assignees", member_id)]);
}

export async function unassign(step_id: string, member_id: string): Promise<void> {
  await commit("unassign", [takingOut("step", step_id, "assignees", member_id)]);
}

export async function holdStep(
  step_id: string,
  reason: "parts" | "weather" | "help" | "question",
  text = "",
): Promise<void> {
  await commit("hold_step", [setting("step", step_id, { held: reason, held_text: text })]);
}

export async function releaseStep(step_id: string): Promise<void> {
  await commit("release_step", [setting("step", step_id, { held: null, held_text: "" })]);
}
