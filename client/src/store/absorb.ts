/**
 * Taking in an answer of the server: verdicts, rows and the cursor in one transaction, so that a phone that dies
 * between any two writes asks again from where it was.
 *
 * - Acknowledged operations are applied to the stored rows by the same merge as on the server: no echo comes.
 * - They are kept, so that a server restored from an older backup is offered them again.
 * - After `reset` the rows are loaded aside; the old copy stays in use until the fresh one is whole.
 */

import type { IDBPTransaction, StoreNames } from "idb";
import { apply } from "../merge/apply.ts";
import { checkShape } from "../merge/operation.ts";
import { RefusedError } from "../merge/refused.ts";
import type { Difference } from "../merge/state.ts";
import type { Answer } from "../sync/protocol.ts";
import { Layer, Layered } from "./board.ts";
import type { Copy } from "./copy.ts";
import {
  type Aside,
  FRESH,
  type Meta,
  type OperationRow,
  type PhoneSchema,
  type Row,
  readOperation,
  wholly,
} from "./db.ts";

/** How long acknowledged operations are kept at least. */
export const KEEP_MS = 90 * 24 * 3600 * 1000;

type Stores = ("rows" | "differences" | "operations" | "meta" | "aside")[];
type Tx = IDBPTransaction<PhoneSchema, Stores, "readwrite">;

const STORES: Stores = ["rows", "differences", "operations", "meta", "aside"];

/** What an answer changed, for the memory and the screens. */
interface Taken {
  meta: Meta;
  operations: OperationRow[];
  rows: Row[];
  differences: Difference[];
  swapped: boolean;
}

/** The rows changed since the question was asked, so the answer to it is old. */
export class StaleAnswerError extends Error {}

/**
 * Take an answer in. Answers the numbers of the operations that stand otherwise than before.
 *
 * Throws StaleAnswerError, and changes nothing, where the rows are not at the `version` at which it was asked for: only
 * one tab exchanges at a time, but one that is frozen or a browser without locks must not turn rows back.
 */
export async function absorb(
  copy: Copy,
  answer: Answer,
  version: number = copy.meta.version,
): Promise<number[]> {
  const tx = copy.db.transaction(STORES as StoreNames<PhoneSchema>[], "readwrite") as unknown as Tx;
  const taken = await wholly(tx, () => takeIn(copy, answer, version, tx));
  if (taken.swapped) await copy.reload();
  else {
    copy.meta = taken.meta;
    copy.board.takeBase(taken.rows, taken.differences);
    copy.board.setOperations(taken.operations);
  }
  return taken.operations.map((row) => row.n);
}

async function takeIn(copy: Copy, answer: Answer, version: number, tx: Tx): Promise<Taken> {
  const meta: Meta = { ...FRESH, ...(await tx.objectStore("meta").get("meta")) };
  if (meta.version !== version || copy.meta.version !== version) throw new StaleAnswerError();
  const used_n = meta.epoch === null ? answer.acknowledged_n : 0;
  const lifted = await liftNumbers(tx, used_n);
  const operations = await verdicts(answer, tx, copy.nowMs());
  const acknowledged = operations.filter((row) => row.status === "acknowledged");
  const { over: own, all_known } = appliedTo(copy.board.baseLayer(), copy.device_id, acknowledged);
  await store(tx, rowsOf(own), [...own.differences.values()]);
  const aside = answer.reset ? await begin(tx, answer.epoch) : meta.aside;
  const next: Meta = {
    ...meta,
    last_stamp: latest(meta.last_stamp, answer),
    next_n: Math.max(meta.next_n + (lifted ? used_n : 0), answer.acknowledged_n + 1),
    version: meta.version + 1,
  };
  if (aside === null) await store(tx, answer.changes, answer.differences);
  else await storeAside(tx, answer);
  if (aside === null || !answer.more) {
    next.cursor = answer.cursor;
    next.epoch = answer.epoch;
  }
  next.aside = aside && advanced(aside, answer, acknowledged);
  const swapped = aside !== null && !answer.more;
  if (swapped) {
    await swap(copy, tx, next.aside?.acknowledged ?? []);
    next.aside = null;
  }
  // The server took what cannot take effect here: this copy misses a row, so a whole one is asked for.
  if (aside === null && !all_known) next.aside = await begin(tx, answer.epoch);
  await tx.objectStore("meta").put({ ...next, name: "meta" });
  const taken = aside === null ? answer : { changes: [], differences: [] };
  const rows = [...rowsOf(own), ...taken.changes];
  const differences = [...own.differences.values(), ...taken.differences];
  return { meta: next, operations, rows, differences, swapped: swapped || lifted };
}

/**
 * At the first answer, put what was written before it behind the numbers that an earlier copy under this key used up:
 * under those the server would take it for what it has already.
 */
async function liftNumbers(tx: Tx, used_n: number): Promise<boolean> {
  const store = tx.objectStore("operations");
  const written = used_n > 0 ? await store.getAll() : [];
  await Promise.all(written.map(async (row) => store.delete(row.n)));
  await Promise.all(written.map(async (row) => store.add({ ...row, n: row.n + used_n })));
  return written.length > 0;
}

const rowsOf = (layer: Layer): Row[] => [...layer.items.values(), ...layer.records.values()];

/** File the verdicts; operations that the server lost are put back into the queue. */
async function verdicts(answer: Answer, tx: Tx, now_ms: number): Promise<OperationRow[]> {
  const refusals = new Map(answer.refused.map((entry) => [entry.n, entry.problem]));
  const store = tx.objectStore("operations");
  const known = await store.index("status").getAll("waiting");
  const lost = await store.getAll(IDBKeyRange.lowerBound(answer.acknowledged_n, true));
  const changed: OperationRow[] = [];
  for (const found of known) {
    if (found.n > answer.acknowledged_n) continue;
    const row = readOperation(found);
    const problem = refusals.get(row.n);
    changed.push(
      problem
        ? { ...row, status: "refused", problem }
        : { ...row, status: "acknowledged", problem: null, acknowledged_at: now_ms },
    );
  }
  for (const found of lost) {
    if (found.status !== "waiting") changed.push({ ...readOperation(found), status: "waiting" });
  }
  for (const row of changed) await store.put(row);
  return changed.sort((a, b) => a.n - b.n);
}

/** What acknowledged operations make of stored rows, and whether each of them could take effect. */
function appliedTo(
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

async function store(tx: Tx, rows: Row[], differences: Difference[]): Promise<void> {
  const [first, second] = [tx.objectStore("rows"), tx.objectStore("differences")];
  await Promise.all([
    ...rows.map(async (row) => first.put(row)),
    ...differences.map(async (row) => second.put(row)),
  ]);
}

async function begin(tx: Tx, epoch: string): Promise<Aside> {
  await tx.objectStore("aside").clear();
  return { cursor: 0, epoch, acknowledged: [] };
}

async function storeAside(tx: Tx, answer: Answer): Promise<void> {
  const aside = tx.objectStore("aside");
  await Promise.all([
    ...answer.changes.map(async (row) => aside.put({ what: "row", id: row.id, row })),
    ...answer.differences.map(async (row) => aside.put({ what: "difference", id: row.id, row })),
  ]);
}

function advanced(aside: Aside, answer: Answer, acknowledged: OperationRow[]): Aside {
  const numbers = [...aside.acknowledged, ...acknowledged.map((row) => row.n)];
  return { cursor: answer.cursor, epoch: answer.epoch, acknowledged: numbers };
}

/** Put the fresh copy in the place of the old one, with what was acknowledged while it came. */
async function swap(copy: Copy, tx: Tx, acknowledged: number[]): Promise<void> {
  const fresh = new Layer();
  for (const { what, row } of await tx.objectStore("aside").getAll()) {
    if (what === "row") fresh.put(row as Row);
    else fresh.differences.set(row.id, row as Difference);
  }
  const operations: OperationRow[] = [];
  for (const n of acknowledged) {
    const found = await tx.objectStore("operations").get(n);
    if (found) operations.push(readOperation(found));
  }
  fresh.take(appliedTo(fresh, copy.device_id, operations).over);
  await tx.objectStore("rows").clear();
  await tx.objectStore("differences").clear();
  await tx.objectStore("aside").clear();
  await store(tx, rowsOf(fresh), [...fresh.differences.values()]);
}

/** The greatest stamp of our own and of all that came. */
function latest(own: string | null, answer: Answer): string | null {
  let greatest = own ?? "";
  const take = (stamp: string | null | undefined): void => {
    if (stamp && stamp > greatest) greatest = stamp;
  };
  take(answer.clock);
  for (const row of answer.changes) {
    take(row.at);
    if (!("fields" in row)) continue;
    Object.values(row.stamps).forEach(take);
    for (const members of Object.values(row.sets)) Object.values(members).flat().forEach(take);
  }
  return greatest || null;
}

/** Let go of operations that the server has had for long; only from the front, so that no gap opens. */
export async function letGo(copy: Copy): Promise<void> {
  const tx = copy.db.transaction("operations", "readwrite");
  const before = copy.nowMs() - KEEP_MS;
  for (let at = await tx.store.openCursor(); at; at = await at.continue()) {
    const row = readOperation(at.value);
    if (row.status !== "acknowledged" || (row.acknowledged_at ?? before) >= before) break;
    await at.delete();
  }
  await tx.done;
}
