/** A whole copy from the pages of a snapshot: cut anywhere, replaced on the way, and with words that go before it. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { Copy } from "../../src/store/copy.ts";
import { exchange } from "../../src/sync/exchange.ts";
import { round } from "../../src/sync/round.ts";
import {
  freshDisk,
  HandClock,
  names,
  note,
  openPhone,
  portsTo,
  rename,
  sync,
  zone,
} from "../support/phone.ts";
import { problem, Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

const ALL = ["Bow", "Deck", "Keel", "Mast", "Rudder", "Stern"];

/** A server with a snapshot of some pages, and a zone and a deletion that came after it. */
function prepared(rows = 3): Server {
  const server = new Server();
  const first = ["Keel", "Rudder", "Bow", "Stern", "Mast", "Hatch"];
  server.act({ at: stamp(1), actions: first.map((name) => zone(name, name)) });
  server.act({ at: stamp(2), actions: [note("n1", "sanded"), note("n2", "primed")] });
  server.prepare("v1", rows);
  server.act({ at: stamp(3), actions: [zone("Deck", "Deck")] });
  const gone = { do: "set", kind: "zone", id: "Hatch", fields: { gone: true }, seen: {} };
  server.act({ at: stamp(4), actions: [gone] });
  return server;
}

const notes = (copy: Copy): string[] =>
  copy.board
    .view()
    .records("note")
    .map((row) => row.body.text as string)
    .sort();

test("a fresh phone asks once, then for each page once, and is whole", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await sync(copy, server);
  assert.deepEqual(names(copy), ALL);
  assert.deepEqual(notes(copy), ["primed", "sanded"]);
  assert.deepEqual(server.pages_asked, [0, 1, 2, 3]);
  assert.equal(server.requests.length, 1);
  assert.equal(await copy.db.count("blocks"), 4);
  assert.ok((await copy.db.count("rows")) < 5, "only what came after the snapshot");
});

test("it is the same after the page was closed, and after changes that lie over a page", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await sync(copy, server);
  await copy.commit("rename", [rename(copy, "Keel", "Keel strip")]);
  await sync(copy, server);
  copy.close();
  const again = await openPhone();
  assert.deepEqual(
    names(again),
    ALL.map((name) => (name === "Keel" ? "Keel strip" : name)),
  );
  assert.deepEqual(again.board.view().item("zone", "Rudder"), server.item("Rudder"));
  assert.deepEqual(again.board.view().item("zone", "Keel"), server.item("Keel"));
});

for (const cut of [0, 1, 2, 3]) {
  test(`a line that is cut before page ${cut} costs only the pages from there on`, async () => {
    const [server, copy] = [prepared(), await openPhone()];
    server.before_page = (number) => {
      if (number === cut) throw new TypeError("no signal");
      return null;
    };
    const ending = await sync(copy, server);
    assert.ok(ending.kind === "later" && ending.offline);
    assert.deepEqual(names(copy), [], "half a copy is not shown");
    copy.close();
    server.before_page = () => null;
    const asked = server.pages_asked.splice(0).length;
    const again = await openPhone();
    await sync(again, server);
    assert.deepEqual(names(again), ALL);
    assert.deepEqual(server.pages_asked, [0, 1, 2, 3].slice(asked - 1));
  });
}

test("a page of somebody else's, half a page and a busy server are no pages", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  for (const wrong of [
    new Response("<html>Sign in to the harbour's net</html>"),
    new Response('{"tables":[{"kind":"zone","id":["Kee'),
    problem(503, "busy", { "Retry-After": "7" }),
  ]) {
    server.before_page = () => wrong;
    const ending = await sync(copy, server);
    assert.ok(ending.kind === "later" && !ending.offline);
    assert.equal(ending.wait_ms, wrong.status === 503 ? 7000 : 0);
  }
  assert.equal(await copy.db.count("blocks"), 0);
  server.before_page = () => null;
  await sync(copy, server);
  assert.deepEqual(names(copy), ALL);
});

test("a snapshot that was replaced while it came is begun anew", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await round(copy, portsTo(server));
  await round(copy, portsTo(server));
  server.act({ at: stamp(5), actions: [zone("Cabin", "Cabin")] });
  server.prepare("v2", 5);
  await sync(copy, server);
  assert.deepEqual(names(copy), [...ALL, "Cabin"].sort());
  const blocks = await copy.db.getAll("blocks");
  assert.ok(
    blocks.every((block) => block.version === "v2"),
    "nothing of the old one stays",
  );
});

test("what was written goes out before the next page comes in", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await round(copy, portsTo(server));
  await round(copy, portsTo(server));
  await copy.commit("create_zone", [zone("Cabin", "Cabin")]);
  await round(copy, portsTo(server));
  assert.equal(server.item("Cabin")?.fields.name, "Cabin");
  assert.equal(server.pages_asked.length, 1);
  await sync(copy, server);
  assert.deepEqual(names(copy), [...ALL, "Cabin"].sort());
  assert.equal(copy.board.waitingCount(), 0);
});

test("words that do not move do not keep the pages out", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await round(copy, portsTo(server));
  await copy.commit("create_zone", [zone("Cabin", "Cabin")]);
  const stuck = { get: () => -5, set: () => {} };
  Object.defineProperty(server.phone(copy.device_id), "last_n", stuck);
  await sync(copy, server);
  assert.deepEqual(names(copy), [...ALL, "Cabin"].sort());
  assert.equal(copy.board.waitingCount(), 1);
});

test("a phone that lost its place keeps its copy until the new one is whole", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await sync(copy, server);
  server.act({ at: stamp(6), actions: [zone("Cabin", "Cabin")] });
  server.prepare("v2", 4);
  server.epoch = "epoch-2";
  await round(copy, portsTo(server));
  assert.deepEqual(names(copy), ALL);
  await sync(copy, server);
  assert.deepEqual(names(copy), [...ALL, "Cabin"].sort());
  assert.equal(copy.meta.epoch, "epoch-2");
});

test("a page that is here already is not fetched for another beginning", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await sync(copy, server);
  server.epoch = "epoch-2";
  server.pages_asked.length = 0;
  await sync(copy, server);
  assert.deepEqual(server.pages_asked, []);
  assert.deepEqual(names(copy), ALL);
});

test("with a withdrawn key no page comes", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  await round(copy, portsTo(server));
  server.revoked = true;
  assert.equal((await sync(copy, server)).kind, "revoked");
});

test("nothing new costs one request without a body, and the clock is measured by its head", async () => {
  const [server, clock] = [prepared(), new HandClock()];
  const copy = await openPhone(clock);
  await exchange(copy, portsTo(server, clock));
  server.requests.length = 0;
  server.now_ms += 3_600_000;
  const sent: (RequestInit | undefined)[] = [];
  const ports = portsTo(server, clock);
  const way: typeof fetch = (path, init) => {
    sent.push(init);
    return ports.fetch(path, init);
  };
  await exchange(copy, { ...ports, fetch: way });
  assert.equal(sent.length, 1);
  assert.equal(sent[0]?.body, undefined);
  assert.ok(Math.abs(copy.meta.clock_off_ms - 3_600_000) <= 1000);
});

test("a whole copy that an older version of this client began aside is finished", async () => {
  const [server, copy] = [prepared(), await openPhone()];
  server.snapshot = null;
  server.page_rows = 4;
  server.epoch = "epoch-1";
  await round(copy, portsTo(server));
  const old = { cursor: 0, epoch: "epoch-1" };
  await copy.setMeta(() => ({ aside: old as unknown as typeof copy.meta.aside }));
  await sync(copy, server);
  assert.equal(copy.meta.aside, null);
  assert.deepEqual(names(copy), ALL);
});
