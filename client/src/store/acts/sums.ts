/** A sum that was worked out, kept with what it was given and what came out, so that both can be read later. */
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { Json } from "../types.ts";
import { recordingOn } from "./actions.ts";

export interface SumBody {
  name: string;
  takes: { [name: string]: Json };
  gives: { [name: string]: Json };
  step_id?: string | null | undefined;
  job_id?: string | null | undefined;
  zone_id?: string | null | undefined;
  text?: string | undefined;
}

/** Keep a sum. Answers the record's id. */
export async function keepSum(body: SumBody): Promise<string> {
  const id = newId();
  await commit("keep_sum", recordingOn("sum", { ...body }, id));
  return id;
}
