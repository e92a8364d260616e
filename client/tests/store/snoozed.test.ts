/** Once is once: for a due instant, over tabs and reloads. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { useCopy } from "../../src/store/local.ts";
import { claimRing } from "../../src/store/snoozed.ts";
import { DEVICE } from "../support/server.ts";
import { onStage } from "../support/stage.ts";

onStage();

const DUE = 1_700_000_000_000;

test("an alarm rings once, also after a reload", async () => {
  assert.equal(await claimRing("a", DUE), true);
  assert.equal(await claimRing("a", DUE), false);
  await useCopy(DEVICE);
  assert.equal(await claimRing("a", DUE + 59_000), false);
});

test("of two that ask at once only one rings", async () => {
  const both = await Promise.all([claimRing("a", DUE), claimRing("a", DUE)]);
  assert.deepEqual(both.sort(), [false, true]);
});

test("an alarm that moved to a later hour rings for it", async () => {
  await claimRing("a", DUE);
  assert.equal(await claimRing("a", DUE + 3_600_000), true);
});
