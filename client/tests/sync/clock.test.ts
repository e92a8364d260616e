/** A clock that is turned while an answer is on its way. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { letGo } from "../../src/store/absorb.ts";
import { round } from "../../src/sync/round.ts";
import { freshDisk, HandClock, openPhone, portsTo, zone } from "../support/phone.ts";
import { Server, stamp } from "../support/server.ts";

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
