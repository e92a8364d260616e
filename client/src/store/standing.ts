/**
 * Which records stand.
 *
 * A record that another of its kind replaces does not stand; of two corrections of one record the later stamp does;
 * what was taken back does not stand either. The first record of a chain lends the chain its id.
 */
import type { Rec } from "../merge/state.ts";
import type { RecordRow } from "./types.ts";

const byStamp = (a: Rec, b: Rec): number => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0);

/** A record that stands, the first of its tree, and the tree's records that nothing replaces, withdrawals left out. */
export interface Standing {
  root: RecordRow;
  record: RecordRow;
  leaves: RecordRow[];
}

/** All records of one kind, and what stands of each tree, by the stamp of the root. */
export interface Trees {
  all: RecordRow[];
  standing: Standing[];
}

/** Sort the records of one kind into trees of corrections. */
export function treesOf(records: readonly Rec[]): Trees {
  const byId = new Map(records.map((row) => [row.id, row]));
  const all = records.map((row) => ({ ...row, root_id: rootOf(row, byId) })).sort(byStamp);
  const corrections = new Map<string, RecordRow[]>();
  for (const row of all) {
    if (row.id === row.root_id) continue;
    const known = corrections.get(row.replaces as string);
    if (known) known.push(row);
    else corrections.set(row.replaces as string, [row]);
  }
  const standing = all
    .filter((row) => row.id === row.root_id)
    .map((root) => ({
      root,
      record: lastOf(root, corrections),
      leaves: leavesOf(root, corrections),
    }))
    .filter(({ record }) => !record.void);
  return { all, standing };
}

type Corrections = ReadonlyMap<string, readonly RecordRow[]>;

/** Of several corrections of one record the one with the later stamp is followed. */
function lastOf(root: RecordRow, corrections: Corrections): RecordRow {
  let last = root;
  for (let next = corrections.get(last.id); next; next = corrections.get(last.id)) {
    last = next.at(-1) as RecordRow;
  }
  return last;
}

function leavesOf(row: RecordRow, corrections: Corrections): RecordRow[] {
  const below = corrections.get(row.id);
  if (below === undefined) return row.void ? [] : [row];
  return below.flatMap((one) => leavesOf(one, corrections));
}

function rootOf(row: Rec, byId: ReadonlyMap<string, Rec>): string {
  let root = row;
  for (let up = byId.get(root.replaces ?? ""); up; up = byId.get(root.replaces ?? "")) root = up;
  return root.id;
}
