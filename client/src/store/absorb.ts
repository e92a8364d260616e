/**
 * Taking in an answer of the server: verdicts, rows and the cursor in one transaction, so that a phone that dies
 * between any two writes asks again from where it was.
 *
 * - Acknowledged operations are applied to the stored rows by the same merge as on the server: no echo comes.
 * - They are kept, so that a server restored from an older backup is offered them again.
 * - After `reset`, and where the server has a snapshot ready, the rows are loaded aside (`whole.ts`).
 */

import type { StoreNames } from "idb";
import type { Difference, Item } from "../merge/state.ts";
import { type Answer, isPart, type Part } from "../sync/protocol.ts";
import { appliedTo, putAll, rowsOf, STORES, storeRows, type Tx } from "./applied.ts";
import { type Board, Layered } from "./board.ts";
import type { Copy } from "./copy.ts";
import {
  type Meta,
  type OperationRow,
  type PhoneSchema,
  type Row,
  readMeta,
  readOperation,
  wholly,
} from "./db.ts";
import { advanced, begin, finish, storeAside } from "./whole.ts";

/** How long acknowledged operations are kept at least. */
export const KEEP_MS = 90 * 24 * 3600 * 1000;

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
  const meta = readMeta(await tx.objectStore("meta").get("meta"));
  if (meta.version !== version || copy.meta.version !== version) throw new StaleAnswerError();
  const first = meta.epoch === null && meta.aside === null;
  const used_n = first ? answer.acknowledged_n : 0;
  const lifted = await liftNumbers(tx, used_n);
  // By the server's clock: this phone's own may have been turned since it was measured.
  const taken_at = Date.parse(answer.server_time) || copy.nowMs();
  const operations = await verdicts(answer, tx, taken_at, lifted ? null : copy.board);
  const acknowledged = operations.filter((row) => row.status === "acknowledged");
  const { over: own, all_known } = appliedTo(copy.board.baseLayer(), copy.device_id, acknowledged);
  // New differences are the server's to tell: it may have set the stamp back that is in their ids.
  const known = copy.board.baseLayer().differences;
  const settled = [...own.differences.values()].filter(({ id }) => known.has(id));
  storeRows(tx, rowsOf(own), settled);
  const afresh = answer.reset || answer.snapshot !== undefined;
  const aside = afresh ? await begin(tx, answer.epoch, answer.snapshot ?? null) : meta.aside;
  const next: Meta = {
    ...meta,
    last_stamp: latest(meta.last_stamp, answer),
    next_n: Math.max(meta.next_n + (lifted ? used_n : 0), answer.acknowledged_n + 1),
    version: meta.version + 1,
    aside: aside && advanced(aside, answer),
  };
  // Over the items as they were: where this phone's own entry did not take effect, no part says so.
  const before = new Layered(copy.board.baseLayer(), own);
  const { changes, all_here } = completed(answer.changes, before);
  if (aside === null) {
    storeRows(tx, changes, answer.differences);
    Object.assign(next, { cursor: answer.cursor, epoch: answer.epoch, more: answer.more });
  } else storeAside(tx, changes, answer.differences);
  const swapped = await finish(tx, next);
  // The server took what cannot take effect here, or knows of a row that is not here: a whole copy is asked for.
  if (aside === null && !(all_known && all_here)) next.aside = await begin(tx, answer.epoch, null);
  await tx.objectStore("meta").put({ ...next, name: "meta" });
  const rows = [...rowsOf(own), ...(aside === null ? changes : [])];
  const differences = [...settled, ...(aside === null ? answer.differences : [])];
  return { meta: next, operations, rows, differences, swapped: swapped || lifted };
}

/** The rows of an answer, each part put over the item as it is here; says whether every one of those was here. */
function completed(rows: Answer["changes"], here: Layered): { changes: Row[]; all_here: boolean } {
  const changes: Row[] = [];
  let all_here = true;
  for (const row of rows) {
    if (!isPart(row)) {
      changes.push(row);
      continue;
    }
    const known = here.item(row.id);
    if (known === undefined) all_here = false;
    else changes.push(overlaid(known, row));
  }
  return { changes, all_here };
}

const overlaid = (known: Item, { fields, stamps, sets }: Part): Item => ({
  ...known,
  fields: { ...known.fields, ...fields },
  stamps,
  sets,
});

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

/** File the verdicts; operations that the server lost are put back into the queue. */
async function verdicts(
  answer: Answer,
  tx: Tx,
  now_ms: number,
  memory: Board | null,
): Promise<OperationRow[]> {
  const refusals = new Map(answer.refused.map((entry) => [entry.n, entry.problem]));
  const store = tx.objectStore("operations");
  // What an operation says never changes, so those in memory need not be read again.
  const waiting = await store.index("status").getAllKeys("waiting");
  const numbers = waiting.filter((n) => n <= answer.acknowledged_n);
  const known = await Promise.all(
    numbers.map(async (n) => memory?.waitingRow(n) ?? (await store.get(n)) ?? []),
  );
  const lost = await store.getAll(IDBKeyRange.lowerBound(answer.acknowledged_n, true));
  const changed: OperationRow[] = [];
  for (const found of known.flat()) {
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
  putAll(tx, "operations", changed);
  return changed.sort((a, b) => a.n - b.n);
}

/** The greatest stamp of our own and of all that came. */
function latest(own: string | null, answer: Answer): string | null {
  let greatest = own ?? "";
  const take = (stamp: string | null | undefined): void => {
    if (stamp && stamp > greatest) greatest = stamp;
  };
  take(answer.clock);
  for (const row of answer.changes) {
    if (!isPart(row)) take(row.at);
    if (!("fields" in row)) continue;
    Object.values(row.stamps).forEach(take);
    for (const members of Object.values(row.sets)) Object.values(members).flat().forEach(take);
  }
  return greatest || null;
}

/**
 * Let go of operations that the server has had for long; only from the front, so that no gap opens.
 *
 * For how long is told by when it took the newest, and by no clock of this phone.
 */
export async function letGo(copy: Copy): Promise<void> {
  const tx = copy.db.transaction("operations", "readwrite");
  let newest: number | null = null;
  for (let at = await tx.store.openCursor(null, "prev"); at; at = await at.continue()) {
    newest = readOperation(at.value).acknowledged_at;
    if (newest !== null) break;
  }
  const before = (newest ?? 0) - KEEP_MS;
  for (let at = await tx.store.openCursor(); at; at = await at.continue()) {
    const row = readOperation(at.value);
    if (row.status !== "acknowledged" || (row.acknowledged_at ?? before) >= before) break;
    await at.delete();
  }
  await tx.done;
}
