/** Numbers of operations are never used twice: not by a copy that was wiped, not by two tabs, with locks or without. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { round } from "../../src/sync/round.ts";
import { freshDisk, names, note, openPhone, portsTo, sync, zone } from "../support/phone.ts";
import { DEVICE, Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

const written = async (copy: Awaited<ReturnType<typeof openPhone>>) =>
  (await copy.db.getAll("operations")).map((row) => [row.n, row.status]);

/** A server that has three operations of this phone, which then lost its copy and kept its key. */
async function wiped(): Promise<Server> {
  const server = new Server();
  const first = await openPhone();
  for (const id of ["z1", "z2", "z3"]) await first.commit("create_zone", [zone(id, id)]);
  await sync(first, server);
  first.close();
  freshDisk();
  return server;
}

test("a wiped copy under the same key puts its entries behind the numbers that are used up", async () => {
  for (const count of [1, 2, 3, 5]) {
    freshDisk();
    const server = await wiped();
    const copy = await openPhone();
    for (let at = 1; at <= count; at++) {
      await copy.commit("log_note", [note(`n${at}`, `after the loss ${at}`)]);
    }
    await sync(copy, server);
    await copy.commit("log_note", [note("last", "and on")]);
    await sync(copy, server);
    assert.equal(server.phone(DEVICE).last_n, 3 + count + 1);
    assert.equal(copy.board.view().records("note").length, count + 1);
    assert.deepEqual(names(copy), ["z1", "z2", "z3"]);
    for (let at = 1; at <= count; at++) assert.ok(server.record(`n${at}`), `entry ${at}`);
    assert.equal((await written(copy)).length, count + 1);
  }
});

test("numbers are put behind those that are used up once, however many answers the first load takes", async () => {
  const server = await wiped();
  server.prepare("v1", 2);
  const copy = await openPhone();
  await copy.commit("log_note", [note("n1", "after the loss")]);
  await copy.commit("log_note", [note("n2", "and another")]);
  await round(copy, portsTo(server));
  await copy.commit("log_note", [note("n3", "while it was loading")]);
  await sync(copy, server);
  assert.deepEqual(await written(copy), [
    [4, "acknowledged"],
    [5, "acknowledged"],
    [6, "acknowledged"],
  ]);
  for (const id of ["n1", "n2", "n3"]) assert.ok(server.record(id), id);
});

test("a wiped copy loses nothing when its first answers are lost", async () => {
  const server = await wiped();
  const copy = await openPhone();
  await copy.commit("log_note", [note("n1", "after the loss")]);
  for (const lost of [1, 2, 3]) {
    const from = server.requests.length;
    server.after = (count) => {
      if (count === from + Math.min(lost, 2)) throw new TypeError("network");
    };
    await sync(copy, server);
  }
  server.after = () => {};
  await sync(copy, server);
  assert.ok(server.record("n1"));
  assert.deepEqual(await written(copy), [[4, "acknowledged"]]);
});

test("an answer that another tab overtook is dropped, also without locks", async () => {
  const server = new Server();
  server.page_rows = 3;
  const [here, there] = [await openPhone(), await openPhone()];
  for (const id of ["z1", "z2", "z3", "z4"]) {
    server.act({ at: stamp(1), actions: [zone(id, id)] });
  }
  await sync(here, server);
  // While this tab's answer is held up the server is restored, and the other tab begins to load everything anew.
  const ports = portsTo(server);
  let held = false;
  const slow = async (...given: Parameters<typeof fetch>): Promise<Response> => {
    const answer = await ports.fetch(...given);
    if (!held) {
      held = true;
      server.epoch = "epoch-2";
      await round(there, ports);
      assert.equal((await there.readMeta()).aside?.cursor, 3);
    }
    return answer;
  };
  await round(here, { ...ports, fetch: slow });
  const disk = await openPhone();
  assert.deepEqual(names(disk), ["z1", "z2", "z3", "z4"], "nothing is gone meanwhile");
  await sync(here, server);
  assert.deepEqual(names(here), ["z1", "z2", "z3", "z4"]);
  assert.equal(here.meta.epoch, "epoch-2");
});

test("two tabs that write in turn share one numbering", async () => {
  const server = new Server();
  const [here, there] = [await openPhone(), await openPhone()];
  await sync(here, server);
  for (let at = 0; at < 6; at++) {
    await (at % 2 ? there : here).commit("log_note", [note(`n${at}`, `${at}`)]);
  }
  await Promise.all([sync(here, server), sync(there, server)]);
  assert.deepEqual(
    (await written(here)).map(([n]) => n),
    [1, 2, 3, 4, 5, 6],
  );
  assert.equal(server.phone(DEVICE).last_n, 6);
  await Promise.all([here.reload(), there.reload()]);
  for (const tab of [here, there]) assert.equal(tab.board.view().records("note").length, 6);
});
