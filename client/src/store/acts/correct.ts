/** Corrections: a record is never changed, a later one takes its place. */
import type { Action } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { Json, RecordRow } from "../types.ts";
import { view } from "../view.ts";
import { type Fields, given, touching } from "./actions.ts";

/** The action that puts a record in the place of `row`. */
export function correcting(row: RecordRow, body: Fields, id: string, taken_back = false): Action {
  const { kind, id: replaces } = row;
  return { do: "record", kind, id, body: given(body), replaces, void: taken_back };
}

/** The same, with what the record hangs on. */
export const correctingOn = (row: RecordRow, body: Fields, id: string): Action[] => [
  correcting(row, body, id),
  ...touching(body),
];

function known(kind: string, record_id: string): RecordRow {
  const row = view.peek().record(kind, record_id);
  if (row === undefined) throw new Error("This record is not known here.");
  return row;
}

/** Put a corrected record in the place of one; what `body` does not name stays. Answers its id. */
export async function correct(
  kind: string,
  record_id: string,
  body: Record<string, Json>,
): Promise<string> {
  const row = known(kind, record_id);
  const id = newId();
  await commit("correct", correctingOn(row, { ...row.body, ...body }, id));
  return id;
}

/** Take a record back; it stays readable. */
export async function voidRecord(kind: string, record_id: string): Promise<void> {
  const row = known(kind, record_id);
  await commit("void_record", [correcting(row, row.body, newId(), true)]);
}
