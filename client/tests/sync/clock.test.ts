/** A clock that is turned while an answer is on its way. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { letGo } from "../../src/store/absorb.ts";
import { round } from "../../src/sync/round.ts";
import { freshDisk, HandClock, openPhone, portsTo, rename, sync, zone } from "../support/phone.ts";
import { DEVICE, Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

const YEAR_MS = 365 * 24 * 3600 * 1000;

test("an operation is kept although the clock jumps a year ahead while an answer comes", async () => {
  const clock = new HandClock();
  const [server, copy] = [new Server(), await openPhone(clock)];
  server.now_ms = clock.ms;
  await round(copy, portsTo(server, clock));
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  server.after = () => {
    clock.ms += YEAR_MS;
  };
  await round(copy, portsTo(server, clock));
  await letGo(copy);
  assert.equal(await copy.db.count("operations"), 1);
});

test("an operation is kept although the clock was a year back when the server took it", async () => {
  const clock = new HandClock();
  const [server, copy] = [new Server(), await openPhone(clock)];
  server.now_ms = clock.ms;
  await round(copy, portsTo(server, clock));
  await copy.commit("create_zone", [zone("z1", "Bow")]);
  server.after = () => {
    clock.ms -= YEAR_MS;
    server.after = () => {};
  };
  await round(copy, portsTo(server, clock));
  server.act({ at: stamp(5), actions: [zone("z2", "Keel")] });
  await round(copy, portsTo(server, clock));
  assert.equal(copy.meta.clock_off_ms, YEAR_MS, "measured again");
  await letGo(copy);
  assert.equal(await copy.db.count("operations"), 1, "a restored server may have lost it");
});

test("a question about an entry whose stamp was set back is asked once, as the server asks it", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Keel")] });
  await sync(copy, server);
  const theirs = { do: "set", kind: "zone", id: "z1", fields: { name: "Fin" }, seen: {} };
  server.act({ at: stamp(60), actions: [theirs] });
  let meanwhile: Promise<unknown> = Promise.resolve();
  server.after = () => {
    server.after = () => {};
    meanwhile = copy.commit("rename", [rename(copy, "z1", "Skeg")]);
  };
  await round(copy, portsTo(server));
  await meanwhile;
  const act = server.act.bind(server);
  server.act = (operation, device, loading) =>
    act(device === DEVICE ? { ...operation, at: stamp(50, DEVICE) } : operation, device, loading);
  await sync(copy, server);
  await sync(copy, server);
  assert.deepEqual(
    copy.board.view().differences.map(({ id }) => id),
    [...server.differences.keys()],
  );
});
