/** What the screens see of the store: rows of the view, and the rows derived from them. */
import type { Difference, Item, Json, Rec } from "../merge/state.ts";
import type { Standing } from "./standing.ts";

export type { Difference, Json };
export type ItemRow = Item;

export interface RecordRow extends Rec {
  /** The first record of the chain of corrections. */
  root_id: string;
}

export interface Problem {
  type: string;
  title: string;
  detail: string;
  status?: number;
  field?: string;
}

export interface Refused {
  n: number;
  act: string;
  at: string;
  actions: Json[];
  problem: Problem;
  dealt_with: boolean;
}

export interface View {
  item(kind: string, id: string): ItemRow | undefined;
  /** Those not gone, by rank, then by the stamp of their creation. */
  items(kind: string): ItemRow[];
  /** Those that were deleted, and that this phone knew. */
  gone(kind: string): ItemRow[];
  /** The value of a field, or what the catalogue says that an absent field means. */
  field<T extends Json>(row: ItemRow, name: string): T;
  members(row: ItemRow, set: string): string[];
  /** Those that stand, by stamp. */
  records(kind: string): RecordRow[];
  /** What stands with the first record of its tree and all versions that nothing replaces, by the root's stamp. */
  trees(kind: string): Standing[];
  allRecords(kind: string): RecordRow[];
  record(kind: string, id: string): RecordRow | undefined;
  /** The member whose device made a stamp. */
  author(stamp: string): ItemRow | undefined;
  differences: Difference[];
  refused: Refused[];
  /** Says whether an item or record has operations that the server has not acknowledged. */
  waitingFor(id: string): boolean;
}

export interface Me {
  refit_id: string;
  member_id: string;
  device_id: string;
  role: "owner" | "hand" | "viewer";
  language: string;
  key_revoked: boolean;
}

export interface AccountRow {
  device_id: string;
  refit_name: string;
  member_name: string;
}

export interface RefitBody {
  name: string;
  time_zone: string;
  launch_at: string;
  owner_name: string;
  language: string;
  day_starts?: string;
  day_ends?: string;
  curve_min_c?: number;
  curve_max_c?: number;
  curve_hour_of_max?: number;
  device_name?: string;
  with_products?: boolean;
}
