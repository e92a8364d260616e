/** Writing rows as the server knows them, and what acknowledged operations make of them. */
import { type IDBPTransaction, unwrap } from "idb";
import { apply } from "../merge/apply.ts";
import { checkShape } from "../merge/operation.ts";
import { RefusedError } from "../merge/refused.ts";
import type { Difference } from "../merge/state.ts";
import { Layer, Layered } from "./board.ts";
import type { OperationRow, PhoneSchema, Row } from "./db.ts";

export type Stores = ("rows" | "differences" | "operations" | "meta" | "aside" | "blocks")[];
export type Tx = IDBPTransaction<PhoneSchema, Stores, "readwrite">;

export const STORES: Stores = ["rows", "differences", "operations", "meta", "aside", "blocks"];

export const rowsOf = (layer: Layer): Row[] => [...layer.items.values(), ...layer.records.values()];

/** What acknowledged operations make of stored rows, and whether each of them could take effect. */
export function appliedTo(
  below: Layer,
  device: string,
  operations: OperationRow[],
): { over: Layer; all_known: boolean } {
  const over = new Layer();
  let all_known = true;
  for (const row of operations) {
    try {
      checkShape(row.actions);
      over.take(apply(new Layered(over, below), row, { device }));
    } catch (error) {
      if (!(error instanceof RefusedError)) throw error;
      all_known = false;
    }
  }
  return { over, all_known };
}

/**
 * Put many values without waiting for each: the transaction says in the end whether all of them are on the disk, and a
 * promise for each of a thousand takes longer than writing it.
 */
export function putAll<Name extends Stores[number]>(
  tx: Tx,
  name: Name,
  values: PhoneSchema[Name]["value"][],
): void {
  const store = unwrap(tx.objectStore(name)) as unknown as IDBObjectStore;
  for (const value of values) store.put(value);
}

export function storeRows(tx: Tx, rows: Row[], differences: Difference[]): void {
  putAll(tx, "rows", rows);
  putAll(tx, "differences", differences);
}
