/**
 * Steps under a job that was deleted: work that whoever deleted the job had not seen.
 *
 * A job is deleted with the steps that the person saw. One that is still there was added, or touched, by somebody else
 * without a signal; under a deleted job nobody would see it, so a person is asked. Differences about the deletion of
 * such a step are the same question.
 */
import { isGone } from "../../merge/state.ts";
import type { Difference, ItemRow, View } from "../types.ts";

export interface Stranded {
  job_id: string;
  /** The deleted job; undefined where it was deleted before this phone came aboard. */
  job: ItemRow | undefined;
  steps: ItemRow[];
  /** Those that are closed with it. */
  differences: Difference[];
}

export function findStranded(rows: View): Stranded[] {
  const found = new Map<string, Stranded>();
  for (const step of rows.items("step")) {
    const job_id = step.fields.job_id as string;
    const job = rows.item("job", job_id);
    if (job && !isGone(job)) continue;
    const one = found.get(job_id) ?? { job_id, job, steps: [], differences: [] };
    one.steps.push(step);
    one.differences.push(...rows.differences.filter(aboutDeletion(step)));
    found.set(job_id, one);
  }
  return [...found.values()];
}

const aboutDeletion =
  (step: ItemRow) =>
  ({ item_id, field }: Difference): boolean =>
    item_id === step.id && field === "gone";

/** The stamp of the last touch of an item: of a field, or of somebody put into a set. */
export function lastTouch({ at, stamps, sets }: ItemRow): string {
  const tags = Object.values(sets).flatMap((members) => Object.values(members).flat());
  return [at, ...Object.values(stamps), ...tags].reduce((last, one) => (one > last ? one : last));
}
