/** Every earlier version's outbox is read: a disk as version 1 of the client left it. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { beforeEach, test } from "node:test";
import { openDB } from "idb";
import { phoneName } from "../../src/store/db.ts";
import { freshDisk, names, openPhone, sync } from "../support/phone.ts";
import { DEVICE, Server } from "../support/server.ts";

interface Disk {
  version: number;
  stores: Record<string, { keyPath: string | string[]; index?: string; rows: object[] }>;
}

const disk = JSON.parse(readFileSync("tests/store/outbox_1.json", "utf8")) as Disk;

beforeEach(freshDisk);

async function layDown(): Promise<void> {
  const db = await openDB(phoneName(DEVICE), disk.version, {
    upgrade(made) {
      for (const [name, { keyPath, index }] of Object.entries(disk.stores)) {
        const store = made.createObjectStore(name, { keyPath });
        if (index) store.createIndex(index, index);
      }
    },
  });
  for (const [name, { rows }] of Object.entries(disk.stores)) {
    for (const row of rows) await db.put(name, row);
  }
  db.close();
}

test("an outbox of version 1 is shown and sent", async () => {
  await layDown();
  const copy = await openPhone();
  assert.deepEqual(names(copy), ["Bow", "Keel"]);
  assert.equal(copy.board.view().refused[0]?.problem.title, "Id in use");
  const server = new Server();
  server.phone(DEVICE).last_n = 2;
  await sync(copy, server);
  assert.equal(server.item("zone-3")?.fields.name, "Bow");
  assert.equal(copy.board.waitingCount(), 0);
});

test("what version 1 did not write is filled in", async () => {
  await layDown();
  const copy = await openPhone();
  assert.equal(copy.meta.next_n, 4);
  assert.deepEqual(copy.meta.snoozed, {});
  assert.equal(
    (
      await copy.commit("drop", [
        { do: "set", kind: "zone", id: "zone-3", fields: { gone: true }, seen: {} },
      ])
    ).n,
    4,
  );
});
