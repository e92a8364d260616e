/** One round trip, with all that may go wrong on the way. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { syncState } from "../../src/store/syncState.ts";
import { backoff, exchange } from "../../src/sync/exchange.ts";
import { retryAfter, round } from "../../src/sync/round.ts";
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
import { DEVICE, problem, Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

const statuses = async (copy: Awaited<ReturnType<typeof openPhone>>) =>
  (await copy.db.getAll("operations")).map((row) => row.status);

test("the first exchange brings the refit, the next only what is new", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  assert.equal((await sync(copy, server)).kind, "done");
  assert.equal(copy.board.view().items("refit")[0]?.fields.name, "Heron");
  server.act({ at: stamp(5), actions: [zone("z1", "Keel")] });
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Keel"]);
  assert.equal(server.requests.at(-1)?.cursor, 4);
});

test("that nobody rings is known from an answer that says so until one that does not", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  const plain = portsTo(server);
  const silent = async (...call: Parameters<typeof fetch>): Promise<Response> => {
    const answer = await plain.fetch(...call);
    answer.headers.set("Tackwatch-Bell", "silent");
    return answer;
  };
  const cut = (): Promise<Response> => Promise.reject(new TypeError("network"));
  const broken = async (): Promise<Response> => new Response("", { status: 503 });
  for (const [fetch, known] of [
    [plain.fetch, false],
    [silent, true],
    [cut, true],
    [broken, true],
    [plain.fetch, false],
  ] as const) {
    await exchange(copy, { ...plain, fetch });
    assert.equal(syncState.peek().nobody_rings, known);
  }
});

test("what is acknowledged stays shown although no echo comes", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  await sync(copy, server);
  assert.deepEqual(await statuses(copy), ["acknowledged"]);
  assert.deepEqual(names(copy), ["Bow"]);
  copy.close();
  const again = await openPhone();
  assert.deepEqual(names(again), ["Bow"], "also after a reload");
  assert.equal(again.board.view().waitingFor("z1"), false);
});

test("an answer lost after the commit costs nothing, at every request", async () => {
  for (const lost of [1, 2, 3]) {
    freshDisk();
    const [server, copy] = [new Server(), await openPhone()];
    server.page_rows = 3;
    await copy.commit("create_zone", [zone("z1", "Bow")]);
    await copy.commit("create_zone", [zone("refit-1", "an id that is in use")]);
    server.act({ at: stamp(3), actions: [note("n1", "from another phone")] });
    server.after = (count) => {
      if (count === lost) throw new TypeError("network");
    };
    await sync(copy, server);
    await copy.commit("create_zone", [zone("z2", "Stern")]);
    await sync(copy, server);
    await sync(copy, server);
    assert.deepEqual(names(copy), ["Bow", "Stern"], `answer ${lost} lost`);
    assert.equal(copy.board.view().records("note").length, 1);
    assert.equal(copy.board.waitingCount(), 0);
    assert.equal(copy.board.view().refused.length, 1);
    assert.equal(server.phone(DEVICE).last_n, 3);
  }
});

test("a refused operation keeps its verdict and its text until a person deals with it", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await sync(copy, server);
  server.act({ at: stamp(2), actions: [zone("z1", "taken by another phone")] });
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  server.after = (count) => {
    if (count === 2) throw new TypeError("the answer is lost, the verdict is not");
  };
  await sync(copy, server);
  await sync(copy, server);
  copy.close();
  const again = await openPhone();
  const [refused] = again.board.view().refused;
  assert.equal(refused?.problem.type, "urn:tackwatch:problem:id-in-use");
  assert.deepEqual(refused?.actions, [zone("z1", "Bow")]);
  assert.deepEqual(names(again), ["taken by another phone"]);
  await again.dealWith(1);
  assert.equal(again.board.view().refused.length, 0);
  assert.equal((await again.db.get("operations", 1))?.actions.length, 1, "the text stays");
});

test("an edit while the answer is still on its way is neither lost nor acknowledged too early", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await sync(copy, server);
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  let meanwhile: Promise<unknown> = Promise.resolve();
  server.after = (count) => {
    if (count === 2) meanwhile = copy.commit("rename", [rename(copy, "z1", "Stem")]);
  };
  const outcome = await round(copy, portsTo(server));
  await meanwhile;
  assert.deepEqual(names(copy), ["Stem"]);
  assert.deepEqual(await statuses(copy), ["acknowledged", "waiting"]);
  assert.equal(outcome.kind, "taken");
  await sync(copy, server);
  assert.equal(server.item("z1")?.fields.name, "Stem");
});

test("401 keeps every word and sends nothing more", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await sync(copy, server);
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  server.revoked = true;
  assert.equal((await sync(copy, server)).kind, "revoked");
  await copy.commit("create_zone", [zone("z2", "Stern")]);
  assert.deepEqual(names(copy), ["Bow", "Stern"]);
  assert.deepEqual(await statuses(copy), ["waiting", "waiting"]);
});

test("429, 5xx, a page of somebody else's and half an answer are no verdicts", async () => {
  const failures: [() => Response, number][] = [
    [() => problem(429, "too-many", { "Retry-After": "7" }), 7000],
    [() => problem(503, "busy"), 0],
    [() => problem(500, "broken"), 0],
    [() => problem(404, "unknown-refit"), 0],
    [() => new Response("<html>Pay here for the yard's wifi</html>"), 0],
    [() => new Response('{"epoch": "x", "acknowl'), 0],
  ];
  const [server, copy] = [new Server(), await openPhone()];
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  for (const [failure, wait_ms] of failures) {
    server.before = failure;
    assert.deepEqual(await sync(copy, server), { kind: "later", offline: false, wait_ms });
    assert.deepEqual(await statuses(copy), ["waiting"]);
  }
  server.before = () => null;
  await sync(copy, server);
  assert.deepEqual(await statuses(copy), ["acknowledged"]);
});

test("409 says that this client is too old, and keeps the queue", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  server.before = () => problem(409, "protocol-too-old");
  assert.equal((await sync(copy, server)).kind, "too_old");
  assert.deepEqual(await statuses(copy), ["waiting"]);
});

test("413 halves what is handed over until it fits", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  for (let k = 0; k < 9; k++) await copy.commit("create_zone", [zone(`z${k}`, `Z${k}`)]);
  server.before = (_, request) =>
    request.operations.length > 2 ? problem(413, "too-large") : null;
  assert.equal((await sync(copy, server)).kind, "done");
  assert.equal(copy.board.waitingCount(), 0);
  assert.equal(server.phone(DEVICE).last_n, 9);
});

test("a large request goes packed and arrives whole", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await copy.commit("log_note", [note("n1", "soft timber ".repeat(500))]);
  let encoding: string | null = null;
  const ports = portsTo(server);
  const watched = ((path: string, init: RequestInit) => {
    encoding = new Headers(init.headers).get("Content-Encoding");
    return server.fetch(path, init);
  }) as typeof fetch;
  await exchange(copy, { ...ports, fetch: watched });
  assert.equal(encoding, "gzip");
  assert.equal(server.record("n1")?.body.text, "soft timber ".repeat(500));
});

test("the phone's clock is measured against the server's, half the way each way", async () => {
  const [server, clock] = [new Server(), new HandClock()];
  const copy = await openPhone(clock);
  server.now_ms = clock.ms + 3_600_000 + 200;
  server.after = () => {
    clock.ms += 400;
  };
  await round(copy, portsTo(server, clock));
  assert.equal(copy.meta.clock_off_ms, 3_600_000);
  server.now_ms = clock.ms + 3_600_000 + 350;
  await round(copy, portsTo(server, clock));
  assert.equal(copy.meta.clock_off_ms, 3_600_000, "what the round trip cannot tell is left alone");
});

test("two people who changed one name unseen make a difference, and both phones agree", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Hull")] });
  await sync(copy, server);
  const seen = { name: stamp(1) };
  await copy.commit("rename", [rename(copy, "z1", "Port hull")]);
  const theirs = { do: "set", kind: "zone", id: "z1", fields: { name: "Hull, port" }, seen };
  server.act({ at: stamp(50), actions: [theirs] });
  await sync(copy, server);
  assert.deepEqual(copy.board.view().item("zone", "z1"), server.item("z1"));
  const [difference] = copy.board.view().differences;
  assert.equal(difference?.lost.value, "Hull, port");
  await copy.commit("settle", [{ do: "settle", differences: [difference?.id ?? ""] }]);
  assert.equal(copy.board.view().differences.length, 0);
});

test("waits grow with each failure, up to five minutes, and the server's word counts", () => {
  assert.deepEqual(
    [1, 2, 3, 20].map((n) => backoff(n, 1)),
    [2000, 4000, 8000, 300_000],
  );
  assert.equal(backoff(1, 0), 1000);
  assert.equal(backoff(1, 1, 9000), 9000);
  // Source: RFC 9110, 10.2.3 Retry-After, with its example date.
  assert.equal(retryAfter("120", 0), 120_000);
  const example = "Fri, 31 Dec 1999 23:59:59 GMT";
  assert.equal(retryAfter(example, Date.UTC(1999, 11, 31, 23, 59, 49)), 10_000);
  assert.equal(retryAfter("soon", 0), 0);
});
