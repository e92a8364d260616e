/** A phone for the tests: a fresh browser database, and a copy on it. */
import { IDBFactory } from "fake-indexeddb";
import "fake-indexeddb/auto";
import type { Action } from "../../src/merge/state.ts";
import { Copy } from "../../src/store/copy.ts";
import { exchange } from "../../src/sync/exchange.ts";
import type { Ports } from "../../src/sync/round.ts";
import { DEVICE, REFIT, type Server } from "./server.ts";

export function freshDisk(): void {
  globalThis.indexedDB = new IDBFactory();
}

/** A clock that a test moves. */
export class HandClock {
  ms = 1_700_000_100_000;
  readonly now = (): number => this.ms;
}

export function openPhone(clock: HandClock = new HandClock()): Promise<Copy> {
  return Copy.open(DEVICE, clock.now);
}

export function portsTo(server: Server, clock: HandClock = new HandClock()): Ports {
  return { fetch: server.fetch as typeof fetch, now: clock.now, key: "k", refit_id: REFIT };
}

export const sync = (copy: Copy, server: Server) => exchange(copy, portsTo(server));

export const zone = (id: string, name: string): Action => ({
  ...{ do: "create", kind: "zone", id, fields: { name }, sets: {} },
});

export const rename = (copy: Copy, id: string, name: string): Action => {
  const row = copy.board.view().item("zone", id);
  const seen = { name: row?.stamps.name ?? row?.at ?? "" };
  return { do: "set", kind: "zone", id, fields: { name }, seen };
};

export const note = (id: string, text: string): Action => ({
  ...{ do: "record", kind: "note", id, body: { text }, replaces: null, void: false },
});

export const names = (copy: Copy): string[] =>
  copy.board
    .view()
    .items("zone")
    .map((row) => row.fields.name as string)
    .sort();
