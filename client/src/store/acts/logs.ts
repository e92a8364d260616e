/** What was done, measured or said: records, which are only ever added. */
import type { Action } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { nowAt, nowMs } from "../now.ts";
import { currentAccount } from "../session.ts";
import type { Json } from "../types.ts";
import { view } from "../view.ts";
import { type Fields, recordingOn } from "./actions.ts";
import { correctingOn } from "./correct.ts";

export interface CoatBody {
  product_id: string;
  zone_id?: string | null;
  mix_id?: string | null;
  start_at?: string;
  end_at?: string;
  area_m2?: number;
  film_wet_um?: number;
  text?: string;
}

export interface MixBody {
  product_id: string;
  step_id?: string;
  stirred_at?: string;
  base_g?: number;
  hardener_g?: number;
  temp_c?: number;
  text?: string;
}

export interface AirBody {
  air_c?: number;
  surface_c?: number;
  rh_pct?: number;
  zone_id?: string;
  taken_at?: string;
}

async function log(act: string, kind: string, body: Fields): Promise<string> {
  const id = newId();
  await commit(act, recordingOn(kind, body, id));
  return id;
}

/** The numbers of the tin as they are now; a record keeps them even if the product changes later. */
function profileOf(product_id: string): Json {
  return view.peek().item("product", product_id)?.fields.profile ?? null;
}

/** The zone of a step's job, where the person named none. */
function zoneOf(step_id: string): string | undefined {
  const rows = view.peek();
  const job = rows.item("job", (rows.item("step", step_id)?.fields.job_id as string) ?? "");
  return (job?.fields.zone_id as string | null) ?? undefined;
}

function coat(step_id: string, body: CoatBody, id: string): Action[] {
  const zone_id = body.zone_id === undefined ? zoneOf(step_id) : body.zone_id;
  const profile = profileOf(body.product_id);
  const start_at = body.start_at ?? nowAt();
  return recordingOn("application", { ...body, step_id, zone_id, profile, start_at }, id);
}

/** The first paint goes on. Answers the application's id. */
export async function startCoat(step_id: string, body: CoatBody): Promise<string> {
  const id = newId();
  await commit("start_coat", coat(step_id, body, id));
  return id;
}

/** The last paint is on: a correction of the same application. Answers the correction's id. */
export async function endCoat(root_id: string, end_at: string = nowAt()): Promise<string> {
  const standing = view.peek().records("application");
  const row = standing.find((record) => record.root_id === root_id || record.id === root_id);
  if (row === undefined) throw new Error("This coat is not known here.");
  const id = newId();
  await commit("end_coat", correctingOn(row, { ...row.body, end_at }, id));
  return id;
}

/** A coat that is already on. */
export async function logCoat(
  step_id: string,
  body: CoatBody & { start_at: string; end_at: string },
): Promise<string> {
  const id = newId();
  await commit("log_coat", coat(step_id, body, id));
  return id;
}

export function logMix(body: MixBody): Promise<string> {
  const stirred_at = body.stirred_at ?? nowAt();
  const profile = profileOf(body.product_id);
  return log("log_mix", "mix", { ...body, profile, stirred_at });
}

export function logReading(body: AirBody): Promise<string> {
  return log("log_reading", "reading", { ...body, taken_at: body.taken_at ?? nowAt() });
}

export function logNote(body: {
  text: string;
  job_id?: string;
  step_id?: string;
  zone_id?: string;
}): Promise<string> {
  return log("log_note", "note", body);
}

/** Hours worked, the person's own unless another member is named. */
export function logHours(body: {
  worked_on: string;
  minutes: number;
  step_id?: string;
  job_id?: string;
  member_id?: string;
}): Promise<string> {
  return log("log_hours", "hours", {
    ...body,
    member_id: body.member_id ?? currentAccount()?.member_id,
  });
}

export function markStep(
  step_id: string,
  mark: "started" | "finished" | "reopened" | "signed_off",
  text?: string,
): Promise<string> {
  return log("mark_step", "mark", { step_id, mark, marked_at: nowAt(), text });
}

/** Say that an alarm was seen; twice within a minute is once. */
export async function markSeen(alarm_id: string, at = nowMs()): Promise<void> {
  const rows = view.peek();
  const own = currentAccount()?.member_id;
  const just = rows.records("seen").some((row) => {
    const mine = row.body.alarm_id === alarm_id && rows.author(row.at)?.id === own;
    return mine && Math.abs(at - Date.parse(row.body.seen_at as string)) < 60_000;
  });
  if (!just) await log("mark_seen", "seen", { alarm_id, seen_at: new Date(at).toISOString() });
}
