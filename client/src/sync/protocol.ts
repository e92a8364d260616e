/** What goes over the wire, as docs/sync.md has it. */
import type { Difference, Item, Operation } from "../merge/state.ts";
import type { Row, Snapshot } from "../store/db.ts";
import type { Problem } from "../store/types.ts";

export const PROTOCOL = 1;

export interface Request {
  protocol: number;
  schema: number;
  epoch: string | null;
  device: string;
  cursor: number;
  operations: Operation[];
  /** Snapshots can be taken here. */
  snapshot: boolean;
  /** Every row up to the cursor is here: of those that changed, parts will do. */
  parts: boolean;
  /** A whole fresh copy is being loaded aside. */
  loading: boolean;
  /** The first number that can still be offered here; null where there is none. */
  first_n: number | null;
}

/** Of an item that is here: the fields that were set after its making, and all of its stamps and sets. */
export interface Part extends Omit<Item, "at"> {
  part: true;
}

export const isPart = (row: Row | Part): row is Part => "part" in row;

export interface Answer {
  epoch: string;
  server_time: string;
  clock: string | null;
  acknowledged_n: number;
  refused: { n: number; problem: Problem }[];
  changes: (Row | Part)[];
  differences: Difference[];
  cursor: number;
  more: boolean;
  reset: boolean;
  /** What lies below these rows, and is to be fetched page by page. */
  snapshot?: Snapshot;
}
