/** Writing down: one act, one transaction. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { ProblemError } from "../../src/store/errors.ts";
import { freshDisk, HandClock, names, openPhone, zone } from "../support/phone.ts";

beforeEach(freshDisk);

test("an act is shown at once and is there after the page was closed", async () => {
  const copy = await openPhone();
  await copy.commit("create_zone", [zone("z1", "Port hull")]);
  assert.deepEqual(names(copy), ["Port hull"]);
  assert.ok(copy.board.view().waitingFor("z1"));
  copy.close();
  assert.deepEqual(names(await openPhone()), ["Port hull"]);
});

test("two tabs number their operations without gaps or doubles", async () => {
  const tabs = [await openPhone(), await openPhone()];
  await Promise.all(
    Array.from({ length: 40 }, (_, k) =>
      tabs[k % 2]?.commit("create_zone", [zone(`z${k}`, `Zone ${k}`)]),
    ),
  );
  const rows = (await tabs[0]?.db.getAll("operations")) ?? [];
  assert.deepEqual(
    rows.map((row) => row.n),
    Array.from({ length: 40 }, (_, k) => k + 1),
  );
  const stamps = rows.map((row) => row.at);
  assert.deepEqual([...new Set(stamps)].sort(), stamps, "stamps rise with the numbers");
});

test("the other tab shows what this one wrote", async () => {
  const [one, two] = [await openPhone(), await openPhone()];
  const row = await one.commit("create_zone", [zone("z1", "Keel")]);
  await two.follow([row.n]);
  assert.deepEqual(names(two), ["Keel"]);
});

test("a phone's clock that is set back a year makes no earlier stamp", async () => {
  const clock = new HandClock();
  const copy = await openPhone(clock);
  const first = await copy.commit("create_zone", [zone("z1", "Bow")]);
  clock.ms -= 365 * 24 * 3600 * 1000;
  const second = await copy.commit("create_zone", [zone("z2", "Stern")]);
  assert.ok(second.at > first.at);
});

test("an act that cannot take effect names its field and writes nothing", async () => {
  const copy = await openPhone();
  await assert.rejects(
    () => copy.commit("create_zone", [zone("z1", "Bow"), zone("z2", " ")]),
    (error) => error instanceof ProblemError && error.field === "actions[1].fields.name",
  );
  assert.deepEqual(names(copy), []);
  assert.equal(await copy.db.count("operations"), 0);
  assert.equal((await copy.commit("create_zone", [zone("z3", "Bow")])).n, 1);
});

test("a disk that is full leaves neither half an operation nor a lost number", async () => {
  const copy = await openPhone();
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = () => {
    throw new DOMException("full", "QuotaExceededError");
  };
  try {
    await assert.rejects(() => copy.commit("create_zone", [zone("z1", "Bow")]));
  } finally {
    IDBObjectStore.prototype.put = put;
  }
  assert.deepEqual(names(copy), []);
  assert.equal(await copy.db.count("operations"), 0);
  assert.equal((await copy.commit("create_zone", [zone("z1", "Bow")])).n, 1);
});
