/**
 * This phone's own copy of one refit: what is written down here counts at once, whatever the network does.
 *
 * - One act is one transaction: the operation, the stamp and the next number are on the disk together or not at all.
 * - IndexedDB lets one writer in at a time, whichever tab it is in, so numbers have no gaps and no doubles.
 * - Memory follows the disk: it changes after the transaction is complete.
 */
import { parse, tick, write } from "../merge/hlc.ts";
import { RefusedError } from "../merge/refused.ts";
import type { Action } from "../merge/state.ts";
import { allOf, rowsOfBlocks } from "./blocks.ts";
import { Board } from "./board.ts";
import {
  type BlobRow,
  FRESH,
  type Meta,
  type OperationRow,
  openPhone,
  type PhoneDb,
  type Row,
  readMeta,
  readOperation,
  wholly,
} from "./db.ts";
import { ProblemError } from "./errors.ts";

const META = "meta";

/** What changed, for this tab's screens and for the other tabs. */
export interface Change {
  operations: OperationRow[];
  rows: Row[];
  /** The whole copy was put in place of the old one. */
  all?: boolean;
}

export class Copy {
  readonly board: Board;
  meta: Meta = FRESH;

  private constructor(
    readonly db: PhoneDb,
    readonly device_id: string,
    private readonly clock: () => number,
  ) {
    this.board = new Board(device_id);
  }

  /**
   * Open the copy of one device key; `clock` gives the phone's own, uncorrected time. `onGone` is called when the browser
   * closes it, as when data are cleared.
   */
  static async open(
    device_id: string,
    clock: () => number = Date.now,
    onGone: () => void = () => {},
  ): Promise<Copy> {
    const copy = new Copy(await openPhone(device_id, onGone), device_id, clock);
    await copy.reload();
    return copy;
  }

  close(): void {
    this.db.close();
  }

  /** The server's time as far as it is known here. */
  nowMs(): number {
    return this.clock() + this.meta.clock_off_ms;
  }

  /** Read everything from the disk. */
  async reload(): Promise<void> {
    const tx = this.db.transaction(["rows", "differences", "operations", "meta", "blocks"]);
    this.meta = readMeta(await tx.objectStore("meta").get(META));
    const { snapshot } = this.meta;
    const [blocks, rows, differences, operations] = await Promise.all([
      snapshot === null ? [] : tx.objectStore("blocks").getAll(allOf(snapshot)),
      tx.objectStore("rows").getAll(),
      tx.objectStore("differences").getAll(),
      tx.objectStore("operations").index("status").getAll(IDBKeyRange.only("waiting")),
    ]);
    const refused = await tx.objectStore("operations").index("status").getAll("refused");
    const below = rowsOfBlocks(blocks);
    this.board.load(
      [...below.changes, ...rows],
      [...below.differences, ...differences],
      [...operations, ...refused].map(readOperation),
    );
  }

  /** Follow what another tab wrote. */
  async follow(numbers: number[]): Promise<void> {
    const meta = await this.readMeta();
    if (meta.version !== this.meta.version) return this.reload();
    const found = await Promise.all(numbers.map((n) => this.db.get("operations", n)));
    this.meta = meta;
    this.board.setOperations(found.flatMap((row) => (row ? [readOperation(row)] : [])));
  }

  async readMeta(): Promise<Meta> {
    return readMeta(await this.db.get("meta", META));
  }

  /** Change entries of the meta row; the others stay as they are on the disk. */
  async setMeta(change: (meta: Meta) => Partial<Meta>): Promise<void> {
    const tx = this.db.transaction("meta", "readwrite");
    this.meta = await wholly(tx, async () => {
      const meta = readMeta(await tx.store.get(META));
      const next = { ...meta, ...change(meta) };
      await tx.store.put({ ...next, name: META });
      return next;
    });
  }

  /**
   * Write one act down as one operation, with the pictures that belong to it.
   *
   * Throws ProblemError, and writes nothing, where the act cannot take effect on what is here.
   */
  async commit(act: string, actions: Action[], blobs: BlobRow[] = []): Promise<OperationRow> {
    const tx = this.db.transaction(["operations", "meta", "blobs"], "readwrite");
    const { row, next } = await wholly(tx, async () => {
      const meta = readMeta(await tx.objectStore("meta").get(META));
      const last = meta.last_stamp === null ? null : parse(meta.last_stamp);
      const at = write(tick(last, Math.floor(this.nowMs()), this.device_id));
      this.rehearse(at, actions);
      const row = readOperation({ n: meta.next_n, at, act, actions });
      const next = { ...meta, last_stamp: at, next_n: row.n + 1 };
      // Each in a function of its own, so that one that throws at once is waited for like the others.
      await Promise.all([
        (async () => tx.objectStore("operations").add(row))(),
        (async () => tx.objectStore("meta").put({ ...next, name: META }))(),
        ...blobs.map(async (blob) => tx.objectStore("blobs").put(blob)),
      ]);
      return { row, next };
    });
    this.meta = next;
    this.board.addOperation(row);
    return row;
  }

  /** Throw what a screen can show where an act cannot take effect. */
  private rehearse(at: string, actions: Action[]): void {
    try {
      this.board.rehearse(at, actions);
    } catch (error) {
      if (error instanceof RefusedError) throw new ProblemError(422, error.asProblem());
      throw error;
    }
  }

  /** Lay a refused operation aside; it stays on the disk. */
  async dealWith(n: number): Promise<OperationRow | null> {
    const tx = this.db.transaction("operations", "readwrite");
    const row = await wholly(tx, async () => {
      const found = await tx.store.get(n);
      if (found === undefined || found.status !== "refused") return null;
      const dealt = { ...readOperation(found), dealt_with: true };
      await tx.store.put(dealt);
      return dealt;
    });
    if (row) this.board.setOperations([row]);
    return row;
  }
}
