/**
 * The databases on this phone: one for each device key, and one that says whose keys are here.
 *
 * A version, once released, is never edited: a later version adds a step to `upgrade`, so that every earlier outbox
 * stays readable.
 */
import { type DBSchema, type IDBPDatabase, openDB } from "idb";
import type { Action, Difference, Item, Rec } from "../merge/state.ts";
import type { Account } from "./session.ts";
import type { Problem } from "./types.ts";

export type Row = Item | Rec;

/** One act of a person as it lies in the outbox. */
export interface OperationRow {
  n: number;
  at: string;
  act: string;
  actions: Action[];
  status: "waiting" | "acknowledged" | "refused";
  problem: Problem | null;
  dealt_with: boolean;
  /** When the server took it, by this phone's corrected clock; null before. */
  acknowledged_at: number | null;
}

/**
 * A picture. `waiting` ones were taken here and are not on the server yet, nor are `refused` ones; those two are never
 * let go but by a person. A `thumbnail` stands under the hash of the whole picture and an ending.
 */
export interface BlobRow {
  sha256: string;
  type: string;
  bytes: ArrayBuffer;
  status: "waiting" | "refused" | "sent" | "fetched" | "thumbnail";
  /** The person chose to send what the camera wrote into it. */
  keep_metadata?: boolean;
  /** When it came to this phone; rows of older versions do not say. */
  kept_at?: number;
  /** Why the server did not take it. */
  problem?: Problem;
}

/** A snapshot that the server keeps ready: so many pages that never change. */
export interface Snapshot {
  version: string;
  pages: number;
}

/** One page of a snapshot as it came: rows that lie below those of `rows`, and differences below those of theirs. */
export interface Block {
  version: string;
  number: number;
  text: string;
}

/** Where the loading of a whole fresh copy stands. */
export interface Aside {
  cursor: number;
  epoch: string | null;
  /** The server has more rows than those that it has sent. */
  more: boolean;
  /** What lies below the rows that are loaded, page for page. */
  snapshot: Snapshot | null;
}

export interface Meta {
  cursor: number;
  epoch: string | null;
  last_stamp: string | null;
  next_n: number;
  clock_off_ms: number;
  /** Counts the changes of the rows, so that another tab sees that its memory is old. */
  version: number;
  aside: Aside | null;
  /** The server has rows up to the number of the cursor's answer that are not here yet. */
  more: boolean;
  /** The version of the snapshot whose pages lie below the rows. */
  snapshot: string | null;
  rang: Record<string, number>;
  snoozed: Record<string, number>;
}

export const FRESH: Meta = {
  cursor: 0,
  epoch: null,
  last_stamp: null,
  next_n: 1,
  clock_off_ms: 0,
  version: 0,
  aside: null,
  more: false,
  snapshot: null,
  rang: {},
  snoozed: {},
};

/** What the server last answered on plans, as it came: the list of them, the one that is shown, and one that failed. */
export interface KeptPlan {
  name: "heads" | "whole" | "failed";
  etag: string | null;
  body: unknown;
  /** When it was last known to be so, by the server's clock. */
  at: number;
}

export interface PhoneSchema extends DBSchema {
  rows: { key: [string, string]; value: Row };
  differences: { key: string; value: Difference };
  operations: { key: number; value: OperationRow; indexes: { status: string } };
  meta: { key: string; value: Partial<Meta> & { name: string } };
  blobs: { key: string; value: BlobRow; indexes: { status: string } };
  aside: {
    key: [string, string];
    value: { what: "row" | "difference"; id: string; row: Row | Difference };
  };
  blocks: { key: [string, number]; value: Block };
  plans: { key: string; value: KeptPlan };
}

export type PhoneDb = IDBPDatabase<PhoneSchema>;

export interface Inbox {
  alarm_id: string;
  action: "seen" | "snooze" | "done";
  at: number;
}

export interface HomeSchema extends DBSchema {
  accounts: { key: string; value: Account };
  settings: { key: string; value: { name: string; value: string | null } };
  inbox: { key: number; value: Inbox };
}

export type HomeDb = IDBPDatabase<HomeSchema>;

export const HOME = "tackwatch";
export const phoneName = (device_id: string): string => `${HOME}-${device_id}`;

/** Open the copy that belongs to one device key. */
export function openPhone(device_id: string, onGone: () => void = () => {}): Promise<PhoneDb> {
  return openDB<PhoneSchema>(phoneName(device_id), 3, {
    upgrade(db, from) {
      if (from < 1) upgradeTo1(db);
      if (from < 2) upgradeTo2(db);
      if (from < 3) upgradeTo3(db);
    },
    blocking: (_current, _blocked, event) => (event.target as IDBDatabase).close(),
    terminated: onGone,
  });
}

function upgradeTo1(db: PhoneDb): void {
  db.createObjectStore("rows", { keyPath: ["kind", "id"] });
  db.createObjectStore("differences", { keyPath: "id" });
  db.createObjectStore("operations", { keyPath: "n" }).createIndex("status", "status");
  db.createObjectStore("meta", { keyPath: "name" });
  db.createObjectStore("blobs", { keyPath: "sha256" }).createIndex("status", "status");
  db.createObjectStore("aside", { keyPath: ["what", "id"] });
}

/** Snapshots come in pages of thousands of rows, and each is kept as it came: as many single writes take seconds. */
function upgradeTo2(db: PhoneDb): void {
  db.createObjectStore("blocks", { keyPath: ["version", "number"] });
}

/** The last plan is there without a signal. */
function upgradeTo3(db: PhoneDb): void {
  db.createObjectStore("plans", { keyPath: "name" });
}

/** Open the list of those who share this phone. */
export function openHome(onGone: () => void = () => {}): Promise<HomeDb> {
  return openDB<HomeSchema>(HOME, 1, {
    upgrade(db, from) {
      if (from >= 1) return;
      db.createObjectStore("accounts", { keyPath: "device_id" });
      db.createObjectStore("settings", { keyPath: "name" });
      db.createObjectStore("inbox", { autoIncrement: true });
    },
    terminated: onGone,
  });
}

/** Fill in what an older version of this client did not write yet. */
export function readMeta(found: Partial<Meta> | undefined): Meta {
  const meta = { ...FRESH, ...found };
  return { ...meta, aside: meta.aside && { ...BEGUN, ...meta.aside } };
}

const BEGUN: Aside = { cursor: 0, epoch: null, more: true, snapshot: null };

/** Fill in what an older version of this client did not write yet. */
export function readOperation(row: Partial<OperationRow> & { n: number }): OperationRow {
  return {
    at: "",
    act: "",
    actions: [],
    status: "waiting",
    problem: null,
    dealt_with: false,
    acknowledged_at: null,
    ...row,
  };
}

/** Do the work of one transaction: all of it is on the disk in the end, or an error is thrown and none of it is. */
export async function wholly<T>(
  tx: { done: Promise<void>; abort(): void },
  work: () => Promise<T>,
): Promise<T> {
  try {
    const made = await work();
    await tx.done;
    return made;
  } catch (error) {
    try {
      tx.abort();
    } catch {
      // It has failed already.
    }
    // A request that was broken off with the others says less than what broke the transaction: that it is full, say.
    const cause = await tx.done.then(
      () => error,
      (why: unknown) => why,
    );
    throw error instanceof Error && error.name === "AbortError" ? cause : error;
  }
}
