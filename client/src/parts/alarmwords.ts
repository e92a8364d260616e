/** An alarm in words: where, by when, and the step that it leads to; for the notice across the screen and for others. */

import { now } from "../store/now.ts";
import { handedAt, told } from "../store/told.ts";
import type { WarningRow } from "../store/warnings.ts";
import { say } from "../words/index.ts";
import { item, linksFrom, live, productName, stepName, text, when, zoneName } from "./know.ts";

/** Instants by which something is to be done, the nearest to a deed first. */
const BY = ["last_start_at", "planned_start_at", "lost_at", "launch_at", "closes_at"];

/** What has opened, or has been: told since when, not by when. */
const SINCE = new Set(["recoat_missed", "pot_life_over", "gel", "sandable", "step_late"]);

export function byWhen({ kind, params, due_at }: WarningRow): number {
  const known = BY.map((name) => Date.parse(String(params[name] ?? ""))).filter(
    (at) => !Number.isNaN(at),
  );
  const opened = Date.parse(String(params.opens_at ?? params.measured_at ?? ""));
  const ahead = known.find((at) => at > now.value);
  if (!SINCE.has(kind) && ahead !== undefined) return ahead;
  return known[0] ?? (Number.isNaN(opened) ? due_at : opened);
}

export const byWords = (by: number): string =>
  by > now.value ? say("alarm.by", { when: when(by) }) : say("alarm.since", { when: when(by) });

export function placeOf(row: WarningRow): string {
  const step = item("step", row.step_id);
  const job = item("job", row.job_id);
  const what = step ? text(step, "title") || text(job, "title") || stepName(step) : "";
  const tin = row.is_pot || !step ? productName(row.product_id) : "";
  return [zoneName(row.zone_id), what, tin].filter(Boolean).join(", ");
}

/** The step that goes on the coat that rings, when it is not begun yet. */
export function following(row: WarningRow): string | null {
  if (!row.step_id) return null;
  const next = linksFrom(row.step_id)
    .map((link) => live("step", text(link, "step_id")))
    .find((step) => step !== undefined);
  return next?.id ?? null;
}

/** Whose alarm it was, where it came to me because they did not see it. */
export function handedBy({ alarm_id }: WarningRow): string {
  if (!handedAt.value.has(alarm_id)) return "";
  const name = told.value.find((one) => one.alarm_id === alarm_id)?.params.handed_name;
  return name ? say("alarm.handed", { name: String(name) }) : "";
}
