/** Zones and the plain setting of fields. */

import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { currentAccount } from "../session.ts";
import type { Json } from "../types.ts";
import { creating, type Fields, lastRank, setting } from "./actions.ts";

export async function createZone(body: {
  name: string;
  parent_id?: string | null;
  twin_id?: string | null;
  area_m2?: number | null;
}): Promise<string> {
  const id = newId();
  const actions = [creating("zone", id, { ...body, rank: lastRank("zone") })];
  if (body.twin_id) actions.push(setting("zone", body.twin_id, { twin_id: id }));
  await commit("create_zone", actions);
  return id;
}

/** Set fields of one item, under the versions that this phone shows. */
export async function setFields(
  kind: string,
  id: string,
  fields: Record<string, Json>,
): Promise<void> {
  await commit("set_fields", [setting(kind, id, fields)]);
}

export async function setMyself(fields: { name?: string; language?: string }): Promise<void> {
  const own = currentAccount();
  if (own) await commit("set_myself", [setting("member", own.member_id, fields as Fields)]);
}
