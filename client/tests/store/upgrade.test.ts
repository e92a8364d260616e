/**
 * An app update over a full outbox: every earlier stored form opens with everything in it, and comes out in the form that
 * a phone has which was never of an earlier version.
 */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { beforeEach, test } from "node:test";
import { openDB } from "idb";
import { openPhone as openDisk, type PhoneDb, phoneName } from "../../src/store/db.ts";
import { freshDisk, note, openPhone, sync } from "../support/phone.ts";
import { DEVICE, Server } from "../support/server.ts";

interface Disk {
  version: number;
  stores: Record<string, { keyPath: string | string[]; index?: string; rows: object[] }>;
}

const FOLDER = "tests/store";
const disks = readdirSync(FOLDER)
  .filter((name) => /^outbox_\d+\.json$/.test(name))
  .map((name) => JSON.parse(readFileSync(`${FOLDER}/${name}`, "utf8")) as Disk);

beforeEach(freshDisk);

/** Fill the stores of an earlier version, and put a hundred operations and a picture more into its outbox. */
async function layDown({ version, stores }: Disk): Promise<void> {
  const db = await openDB(phoneName(DEVICE), version, {
    upgrade(made) {
      for (const [name, { keyPath, index }] of Object.entries(stores)) {
        const store = made.createObjectStore(name, { keyPath });
        if (index) store.createIndex(index, index);
      }
    },
  });
  for (const [name, { rows }] of Object.entries(stores)) {
    for (const row of rows) await db.put(name, row);
  }
  for (let n = 4; n < 104; n++) {
    const at = `018bcfe5680001${n.toString(16).padStart(2, "0")}-${DEVICE}`;
    const actions = [note(`note-${n}`, `of an old version, ${n}`)];
    await db.put("operations", { n, at, act: "log_note", actions, status: "waiting" });
  }
  const meta = await db.get("meta", "meta");
  await db.put("meta", { ...meta, next_n: 104 });
  const bytes = new ArrayBuffer(8);
  await db.put("blobs", { sha256: "ab", type: "image/jpeg", bytes, status: "waiting" });
  db.close();
}

/** The form of a database: each store with its key and its indexes. */
function formOf(db: PhoneDb): object {
  const names = [...db.objectStoreNames];
  const tx = db.transaction(names);
  return {
    version: db.version,
    stores: names.map((name) => {
      const { keyPath, autoIncrement, indexNames } = tx.objectStore(name);
      return { name, keyPath, autoIncrement, indexes: [...indexNames] };
    }),
  };
}

test("there is a disk of each earlier version", async () => {
  const fresh = await openDisk(DEVICE);
  const earlier = Array.from({ length: Math.max(1, fresh.version - 1) }, (_, at) => at + 1);
  fresh.close();
  for (const version of earlier) assert.ok(disks.some((disk) => disk.version === version));
});

for (const disk of disks) {
  test(`a disk of version ${disk.version} comes into the form of a fresh one`, async () => {
    const fresh = await openDisk("phone0000009");
    const wanted = formOf(fresh);
    fresh.close();
    await layDown(disk);
    const upgraded = await openDisk(DEVICE);
    assert.deepEqual(formOf(upgraded), wanted);
    upgraded.close();
  });

  test(`a full outbox of version ${disk.version} is shown, and sent to the last entry`, async () => {
    await layDown(disk);
    const copy = await openPhone();
    assert.equal(copy.board.waitingCount(), 101);
    assert.equal(copy.board.view().records("note").length, 100);
    assert.equal((await copy.db.get("blobs", "ab"))?.status, "waiting");
    const server = new Server();
    server.phone(DEVICE).last_n = 2;
    await sync(copy, server);
    assert.equal(copy.board.waitingCount(), 0);
    assert.equal(server.phone(DEVICE).last_n, 103);
    assert.ok(server.record("note-103"));
  });

  test(`a page of version ${disk.version} that is still open lets the new one in`, async () => {
    await layDown(disk);
    const old = await openDB(phoneName(DEVICE), disk.version, {
      blocking: (_current, _blocked, event) => (event.target as IDBDatabase).close(),
    });
    const copy = await openPhone();
    assert.equal(copy.board.waitingCount(), 101);
    await assert.rejects(async () => old.get("operations", 4), { name: "InvalidStateError" });
  });
}
