/** A server that was restored, or that forgot where this phone was: a whole fresh copy, loaded aside. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { KEEP_MS, letGo } from "../../src/store/absorb.ts";
import { round } from "../../src/sync/round.ts";
import {
  freshDisk,
  HandClock,
  names,
  openPhone,
  portsTo,
  rename,
  sync,
  zone,
} from "../support/phone.ts";
import { DEVICE, Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

async function grown(): Promise<{ server: Server; copy: Awaited<ReturnType<typeof openPhone>> }> {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Keel"), zone("z2", "Rudder")] });
  await copy.commit("create_zone", [zone("z3", "Bow")]);
  await sync(copy, server);
  return { server, copy };
}

test("the old copy stays in use until the fresh one is whole", async () => {
  const { server, copy } = await grown();
  server.epoch = "epoch-2";
  server.page_rows = 2;
  server.filed.delete("z2");
  const outcome = await round(copy, portsTo(server));
  assert.ok(outcome.kind === "taken" && outcome.more);
  assert.deepEqual(names(copy), ["Bow", "Keel", "Rudder"], "still the old copy");
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Bow", "Keel"]);
  assert.equal(copy.meta.epoch, "epoch-2");
  assert.equal(await copy.db.count("aside"), 0);
});

test("a phone that dies while it loads aside goes on where it was", async () => {
  const { server, copy } = await grown();
  server.epoch = "epoch-2";
  server.page_rows = 2;
  await round(copy, portsTo(server));
  await round(copy, portsTo(server));
  copy.close();
  const again = await openPhone();
  assert.deepEqual(names(again), ["Bow", "Keel", "Rudder"]);
  await sync(again, server);
  assert.deepEqual(names(again), ["Bow", "Keel", "Rudder"]);
  const cursors = server.requests.map((request) => request.cursor);
  assert.deepEqual(
    cursors.slice(-2),
    [...cursors.slice(-2)].sort((a, b) => a - b),
  );
  assert.ok(cursors.at(-1) !== 0, "nothing is asked for twice");
});

test("what was lost with a restored server is offered again, and counts once", async () => {
  const { server, copy } = await grown();
  const backup = { seq: server.seq, phones: [[DEVICE, 1]] as [string, number][] };
  await copy.commit("create_zone", [zone("z4", "Stern")]);
  await copy.commit("create_zone", [zone("z5", "Mast")]);
  await sync(copy, server);
  assert.equal(server.phone(DEVICE).last_n, 3);
  server.restore(backup, "epoch-2");
  await copy.commit("create_zone", [zone("z6", "Boom")]);
  await sync(copy, server);
  assert.equal(server.phone(DEVICE).last_n, 4);
  assert.ok(server.item("z4") && server.item("z5") && server.item("z6"));
  assert.deepEqual(names(copy), ["Boom", "Bow", "Keel", "Mast", "Rudder", "Stern"]);
  assert.equal(copy.board.waitingCount(), 0);
});

/** The first number that the phone last said it could offer. */
const saidFirst = (server: Server): number | null | undefined =>
  server.requests
    .map((request) => request.first_n)
    .filter((n) => n !== null)
    .at(-1);

test("behind numbers that a restored server lost, and that are not kept here any more, the queue drains", async () => {
  const { server, copy } = await grown();
  const backup = { seq: server.seq, phones: [[DEVICE, 1]] as [string, number][] };
  for (const n of [4, 5, 6, 7]) await copy.commit("create_zone", [zone(`z${n}`, `Zone ${n}`)]);
  await sync(copy, server);
  assert.equal(server.phone(DEVICE).last_n, 5);
  for (const n of [1, 2, 3]) await copy.db.delete("operations", n);
  server.restore(backup, "epoch-2");
  await copy.commit("create_zone", [zone("z8", "Boom")]);
  await sync(copy, server);
  assert.equal(copy.board.waitingCount(), 0);
  assert.equal(server.phone(DEVICE).last_n, 6);
  assert.ok(server.item("z6") && server.item("z7") && server.item("z8"));
  assert.ok(!server.item("z4") && !server.item("z5"), "nobody has them any more");
  assert.equal(saidFirst(server), 4);
});

test("a copy that has let go of all that it sent goes on with the next number", async () => {
  const { server, copy } = await grown();
  await copy.db.clear("operations");
  server.epoch = "epoch-2";
  await copy.commit("create_zone", [zone("z8", "Boom")]);
  await sync(copy, server);
  assert.equal(copy.board.waitingCount(), 0);
  await copy.db.clear("operations");
  server.act({ at: stamp(2), actions: [zone("z9", "Skeg")] });
  server.epoch = "epoch-3";
  await sync(copy, server);
  await copy.commit("create_zone", [zone("z10", "Bilge")]);
  await sync(copy, server);
  assert.equal(saidFirst(server), copy.meta.next_n - 1);
  assert.ok(server.item("z10"));
});

test("what is done while the fresh copy comes is in it", async () => {
  const { server, copy } = await grown();
  server.epoch = "epoch-2";
  server.page_rows = 2;
  await round(copy, portsTo(server));
  await copy.commit("create_zone", [zone("z7", "Ballast")]);
  await round(copy, portsTo(server));
  assert.deepEqual(names(copy), ["Ballast", "Bow", "Keel", "Rudder"]);
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Ballast", "Bow", "Keel", "Rudder"]);
  assert.equal(copy.meta.aside, null);
});

test("what is acknowledged while a fresh copy comes has the server's stamps", async () => {
  for (const page_rows of [2, 3, 1000]) {
    freshDisk();
    const { server, copy } = await grown();
    server.epoch = "epoch-2";
    server.page_rows = page_rows;
    await copy.commit("rename", [rename(copy, "z3", "Stem")]);
    await sync(copy, server);
    assert.deepEqual(
      copy.board.view().item("zone", "z3"),
      server.item("z3"),
      `${page_rows} a page`,
    );
  }
});

test("what is done just as the last page of the whole is cut is not lost", async () => {
  const { server, copy } = await grown();
  server.act({ at: stamp(2), actions: [zone("z9", "Skeg")] });
  server.epoch = "epoch-2";
  server.page_rows = server.seq / 2;
  await round(copy, portsTo(server));
  await copy.commit("create_zone", [zone("z7", "Ballast")]);
  // Its row comes after the whole, and nobody is sent back what they sent.
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Ballast", "Bow", "Keel", "Rudder", "Skeg"]);
  assert.equal(server.requests.at(-1)?.cursor, server.seq - 1);
});

test("an acknowledged operation that cannot take effect here asks for a whole copy", async () => {
  const { server, copy } = await grown();
  await copy.commit("create_zone", [
    { ...zone("z8", "Locker"), fields: { name: "Locker", parent_id: "z1" } },
  ]);
  // The copy has lost a row that the server has.
  await copy.db.delete("rows", ["zone", "z1"]);
  await copy.reload();
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Bow", "Keel", "Locker", "Rudder"]);
});

test("acknowledged operations are kept for months, then let go from the front only", async () => {
  const clock = new HandClock();
  const [server, copy] = [new Server(), await openPhone(clock)];
  server.now_ms = clock.ms;
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  await sync(copy, server);
  clock.ms += KEEP_MS / 2;
  await copy.commit("create_zone", [zone("z2", "Keel")]);
  const later = portsTo(server, clock);
  server.now_ms = clock.ms;
  await round(copy, later);
  await letGo(copy);
  assert.equal(await copy.db.count("operations"), 2);
  clock.ms += KEEP_MS / 2 + 1;
  server.now_ms = clock.ms;
  await copy.commit("create_zone", [zone("z3", "Mast")]);
  await round(copy, later);
  await letGo(copy);
  assert.deepEqual(await copy.db.getAllKeys("operations"), [2, 3]);
});
