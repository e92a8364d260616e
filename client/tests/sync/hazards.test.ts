/** What is known to go wrong where phones work apart; the table of all of it is in docs/sync.md. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { freshDisk, HandClock, names, note, openPhone, portsTo, zone } from "../support/phone.ts";
import { DEVICE, MEMBER, problem, REFIT, Server } from "../support/server.ts";

beforeEach(freshDisk);

test("what waits goes out when the server is back, with nothing new written", async (t) => {
  // The loop of the page, on a page that is open and out of sight.
  const page = { addEventListener: () => {}, visibilityState: "hidden" };
  const alone = { BroadcastChannel: undefined, setInterval: () => 0 };
  Object.assign(globalThis, { document: page, addEventListener: () => {}, ...alone });
  Object.defineProperty(globalThis, "navigator", { value: { onLine: true }, configurable: true });
  const later = globalThis.setTimeout;
  const timers: NodeJS.Timeout[] = [];
  const kept = (...given: Parameters<typeof later>) => {
    const timer = later(...given);
    timers.push(timer);
    return timer;
  };
  Object.assign(globalThis, { setTimeout: kept });
  const { setAccount } = await import("../../src/store/session.ts");
  const { openCopy, useCopy } = await import("../../src/store/local.ts");
  const { startLoop, syncOnce } = await import("../../src/sync/loop.ts");
  const server = new Server();
  let away = true;
  let tries = 0;
  globalThis.fetch = (async (path: string, init?: RequestInit) => {
    tries += 1;
    return away ? problem(503, "busy") : server.fetch(path, init);
  }) as typeof fetch;
  setAccount({
    ...{ device_id: DEVICE, key: "k", refit_id: REFIT, member_id: MEMBER, role: "owner" },
    ...{ refit_name: "Heron", member_name: "Ines", language: "en", key_revoked: false },
  });
  await useCopy(DEVICE);
  t.after(async () => {
    await useCopy(null);
    setAccount(null);
    await syncOnce();
    timers.forEach(clearTimeout);
    Object.assign(globalThis, { setTimeout: later });
  });
  startLoop({ alarm: () => {} });
  await openCopy()?.commit("create_zone", [zone("z1", "Bow")]);
  await syncOnce();
  const failed = tries;
  assert.ok(failed > 0 && openCopy()?.board.waitingCount() === 1);
  away = false;
  // Nobody does anything now: the next try is the loop's own.
  for (let wait = 0; wait < 400 && openCopy()?.board.waitingCount() !== 0; wait++) {
    await new Promise((resolve) => later(resolve, 50));
  }
  assert.equal(server.item("z1")?.fields.name, "Bow");
});

test("a server that moved to another address costs one request", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  const { exchange } = await import("../../src/sync/exchange.ts");
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  await exchange(copy, portsTo(server));
  const cursor = copy.meta.cursor;
  const requests: string[] = [];
  const elsewhere = (async (path: string, init?: RequestInit) => {
    requests.push(`https://new.example${path}`);
    return server.fetch(path, init);
  }) as typeof fetch;
  assert.equal((await exchange(copy, { ...portsTo(server), fetch: elsewhere })).kind, "done");
  assert.equal(requests.length, 1);
  assert.equal(copy.meta.cursor, cursor);
  assert.deepEqual(names(copy), ["Bow"]);
});

test("a clock that steps back by an hour or a year makes no older stamp and no second number", async () => {
  for (const back_ms of [3_600_000, 31_536_000_000]) {
    freshDisk();
    const clock = new HandClock();
    const copy = await openPhone(clock);
    await copy.commit("log_note", [note("n1", "before")]);
    clock.ms -= back_ms;
    await copy.commit("log_note", [note("n2", "after")]);
    copy.close();
    const again = await openPhone(clock);
    await again.commit("log_note", [note("n3", "after a reload")]);
    const rows = await again.db.getAll("operations");
    assert.deepEqual(
      rows.map((row) => row.n),
      [1, 2, 3],
    );
    const stamps = rows.map((row) => row.at);
    assert.deepEqual([...stamps].sort(), stamps);
    assert.equal(new Set(stamps).size, 3);
    again.close();
  }
});
