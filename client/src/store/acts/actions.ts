/** The actions that the acts are made of, with what the person saw filled in. */
import { ITEM_KINDS } from "../../merge/catalogue.ts";
import { type Action, isGone, type Json } from "../../merge/state.ts";
import { newId } from "../ids.ts";
import { type ItemRow, view } from "../view.ts";

export type Fields = Record<string, Json | undefined>;

/** Leave out what was not given. */
export function given(fields: Fields): Record<string, Json> {
  const rest: Record<string, Json> = {};
  for (const [name, value] of Object.entries(fields)) if (value !== undefined) rest[name] = value;
  return rest;
}

export function creating(
  kind: string,
  id: string,
  fields: Fields,
  sets: Record<string, string[]> = {},
): Action {
  return { do: "create", kind, id, fields: given(fields), sets };
}

/** Set fields of an item; says which version of each the person saw. */
export function setting(kind: string, id: string, fields: Fields): Action {
  const row = view.peek().item(kind, id);
  const values = given(fields);
  const seen: Record<string, Json> = {};
  if (row !== undefined) {
    for (const name of Object.keys(values)) seen[name] = row.stamps[name] ?? row.at;
    if (values.gone === true) Object.assign(seen, seenOf(row));
  }
  return { do: "set", kind, id, fields: values, seen };
}

/** All that a person saw of an item who takes it away: each field's stamp, each set's tags. */
export function seenOf(row: ItemRow): Record<string, string> {
  const tags = Object.entries(row.sets).map(([name, members]) => [
    name,
    Object.values(members).flat().sort().join(" "),
  ]);
  return { ...row.stamps, ...Object.fromEntries(tags) };
}

/**
 * Say in the same operation that what an entry hangs on is wanted: a field is set to what it is. Somebody who deletes it
 * without having seen the entry then meets a touch, so that it stays and a person is asked; the entry alone would hang
 * on nothing and be seen by nobody.
 */
export function touching({ step_id, job_id }: Fields): Action[] {
  const again = (kind: string, id: unknown, name: string): Action[] => {
    const row = typeof id === "string" ? view.peek().item(kind, id) : undefined;
    if (row === undefined || isGone(row)) return [];
    return [setting(kind, row.id, { [name]: view.peek().field(row, name) })];
  };
  return [...again("step", step_id, "job_id"), ...again("job", job_id, "mirror_of")];
}

/** A record with what it hangs on, as one operation has them. */
export const recordingOn = (kind: string, body: Fields, id: string): Action[] => [
  recording(kind, body, id),
  ...touching(body),
];

export function recording(kind: string, body: Fields, id = newId()): Action {
  return { do: "record", kind, id, body: given(body), replaces: null, void: false };
}

export function puttingIn(kind: string, id: string, set: string, member: string): Action {
  return { do: "put_in", kind, id, set, member };
}

export function takingOut(kind: string, id: string, set: string, member: string): Action {
  const tags = view.peek().item(kind, id)?.sets[set]?.[member] ?? [];
  return { do: "take_out", kind, id, set, member, tags: [...tags] };
}

/** A place after all others of a kind: ranks leave room between. */
export function lastRank(kind: string): number {
  const rows = view.peek().items(kind);
  const ranks = rows.map((row) => view.peek().field<number>(row, "rank"));
  return Math.max(0, ...ranks) + 1024;
}

export const isItem = (kind: string): boolean => ITEM_KINDS.has(kind);
