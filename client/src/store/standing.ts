/**
 * Which records stand.
 *
 * A record that another of its kind replaces does not stand; of two corrections of one record the later stamp does;
 * what was taken back does not stand either. The first record of a chain lends the chain its id.
 */
import type { Rec } from "../merge/state.ts";
import type { RecordRow } from "./types.ts";

const byStamp = (a: Rec, b: Rec): number => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0);

/** Give all records of one kind with the root of their chain, and those that stand, both by stamp. */
export function standing(records: Rec[]): { all: RecordRow[]; standing: RecordRow[] } {
  const byId = new Map(records.map((row) => [row.id, row]));
  const latest = new Map<string, Rec>();
  for (const row of records) {
    if (row.replaces === null) continue;
    const other = latest.get(row.replaces);
    if (other === undefined || byStamp(other, row) < 0) latest.set(row.replaces, row);
  }
  const all = records.map((row) => ({ ...row, root_id: rootOf(row, byId) })).sort(byStamp);
  const rows = new Map(all.map((row) => [row.id, row]));
  const stands: RecordRow[] = [];
  for (const row of all) {
    if (row.id !== row.root_id) continue;
    let last: Rec = row;
    for (let next = latest.get(last.id); next; next = latest.get(last.id)) last = next;
    if (!last.void) stands.push(rows.get(last.id) as RecordRow);
  }
  return { all, standing: stands.sort(byStamp) };
}

function rootOf(row: Rec, byId: Map<string, Rec>): string {
  let root = row;
  for (let up = byId.get(root.replaces ?? ""); up; up = byId.get(root.replaces ?? "")) root = up;
  return root.id;
}
