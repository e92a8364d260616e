/**
 * The phone dies between any two of its writes: nothing is lost, nothing is doubled.
 *
 * The run is done again and again; each time the disk fails at one write later than before, the page is gone, and a new
 * one opens the same disk and goes on.
 */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { Copy } from "../../src/store/copy.ts";
import { freshDisk, names, note, openPhone, rename, sync, zone } from "../support/phone.ts";
import { DEVICE, Server, stamp } from "../support/server.ts";

const WRITES = ["put", "add", "delete", "clear"] as const;
const real = Object.fromEntries(WRITES.map((name) => [name, IDBObjectStore.prototype[name]]));

/** Let the disk fail at the write with this number and at all that follow. */
function dieAt(last: number): { done: number } {
  const count = { done: 0 };
  for (const name of WRITES) {
    const write = real[name] as (...given: unknown[]) => IDBRequest;
    Object.assign(IDBObjectStore.prototype, {
      [name](this: IDBObjectStore, ...given: unknown[]) {
        if (++count.done > last) throw new DOMException("gone", "UnknownError");
        return write.apply(this, given);
      },
    });
  }
  return count;
}

function live(): void {
  Object.assign(IDBObjectStore.prototype, real);
}

beforeEach(() => {
  live();
  freshDisk();
});

/** The acts of the story; each is done unless an earlier life of the phone did it. */
async function story(copy: Copy, server: Server, did: Set<string>): Promise<void> {
  const once = async (name: string, act: () => Promise<unknown>): Promise<void> => {
    if (did.has(name)) return;
    await act();
    did.add(name);
  };
  await once("bow", () => copy.commit("create_zone", [zone("z1", "Bow")]));
  await sync(copy, server);
  await once("stem", () => copy.commit("rename", [rename(copy, "z1", "Stem")]));
  await once("note", () => copy.commit("log_note", [note("n1", "soft timber")]));
  await sync(copy, server);
  if (server.epoch === "epoch-1") {
    server.act({ at: stamp(4), actions: [zone("z2", "Keel")] });
    server.epoch = "epoch-2";
  }
  await sync(copy, server);
}

test("a phone that dies at any write loses nothing and doubles nothing", async () => {
  let deaths = 0;
  for (let last = 0; ; last++) {
    freshDisk();
    const server = new Server();
    server.page_rows = 3;
    const did = new Set<string>();
    const first = await openPhone();
    const count = dieAt(last);
    await story(first, server, did).catch(() => {});
    const survived = count.done <= last;
    live();
    first.close();
    const second = await openPhone();
    // What the person saw as done is done; what failed is not there by half.
    const rows = await second.db.getAll("operations");
    assert.equal(rows.length, did.size, `write ${last}`);
    await story(second, server, did);
    assert.deepEqual(names(second), ["Keel", "Stem"], `write ${last}`);
    assert.equal(second.board.view().records("note").length, 1, `write ${last}`);
    assert.equal(server.item("z1")?.fields.name, "Stem", `write ${last}`);
    assert.equal(server.phone(DEVICE).last_n, 3, `write ${last}`);
    assert.deepEqual(second.board.view().item("zone", "z1"), server.item("z1"));
    second.close();
    if (survived) break;
    deaths++;
  }
  assert.ok(deaths > 25, `only ${deaths} deaths were tried`);
});

test("the cursor is never on the disk before the rows that it speaks of", async () => {
  const server = new Server();
  server.act({ at: stamp(1), actions: [zone("z1", "Keel")] });
  for (let last = 0; last < 8; last++) {
    freshDisk();
    const copy = await openPhone();
    dieAt(last);
    await sync(copy, server).catch(() => {});
    live();
    copy.close();
    const again = await openPhone();
    const rows = await again.db.count("rows");
    assert.equal(again.meta.cursor === 0, rows === 0, `write ${last}`);
    again.close();
  }
});
