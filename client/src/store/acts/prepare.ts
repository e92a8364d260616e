/** Steps that must be done before another can begin, put in front of it with what it came after. */
import type { Action } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { view } from "../view.ts";
import { creating, setting } from "./actions.ts";
import { stepsOf } from "./steps.ts";

export interface Preparation {
  kind: string;
  title?: string;
  labour_h?: number | null;
  product_id?: string | null;
  tack?: boolean;
  /** How long what follows waits at least. */
  wait_s?: number;
}

const BY_CURE = new Set(["sand", "grind"]);

/**
 * Put steps before one: the first of them comes after what it came after, the step itself after the last. What follows a
 * coat goes on in that coat's window.
 */
export async function prepareStep(step_id: string, before: readonly Preparation[]): Promise<void> {
  const step = view.peek().item("step", step_id);
  const [first] = before;
  if (!step || !first) return;
  const job_id = step.fields.job_id as string;
  const ids = before.map(() => newId());
  const ranks = ranksBefore(job_id, step_id, before.length);
  const steps = before.map(({ wait_s: _, title, labour_h, ...own }, n) => {
    const fields = { ...own, job_id, title: title ?? "", labour_h: labour_h ?? null };
    return creating("step", ids[n] as string, { ...fields, rank: ranks[n] }, { assignees: [] });
  });
  const moved: Action[] = view
    .peek()
    .items("link")
    .filter((link) => link.fields.step_id === step_id)
    .map((link) => {
      const by_cure = link.fields.by_cure === true && BY_CURE.has(first.kind);
      return setting("link", link.id, { step_id: ids[0] as string, by_cure });
    });
  const chain = [...ids.slice(1), step_id].map((id, n) => {
    const gaps = before[n]?.kind === "coat" ? { by_cure: true, min_gap_s: before[n].wait_s } : {};
    return creating("link", newId(), { step_id: id, after_id: ids[n] as string, ...gaps });
  });
  await commit("prepare_step", [...steps, ...moved, ...chain]);
}

/** Places between a step and the one in front of it. */
function ranksBefore(job_id: string, step_id: string, count: number): number[] {
  const rankOf = (id: string) => {
    const row = view.peek().item("step", id);
    return row ? view.peek().field<number>(row, "rank") : 0;
  };
  const all = stepsOf(job_id).map((row) => row.id);
  const place = all.indexOf(step_id);
  const upper = rankOf(step_id);
  const lower = place > 0 ? rankOf(all[place - 1] as string) : upper - 1024;
  return Array.from({ length: count }, (_, n) => lower + ((n + 1) * (upper - lower)) / (count + 1));
}
