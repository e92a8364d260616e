/** When a phone asks for the plans by itself: with the first exchange, and then no more than every ten minutes. */
import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { openAccounts } from "../../src/store/accounts.ts";
import { home } from "../../src/store/home.ts";
import { openCopy, useCopy } from "../../src/store/local.ts";
import { readPlans } from "../../src/store/plans.ts";
import { currentAccount } from "../../src/store/session.ts";
import { setSyncState } from "../../src/store/syncState.ts";
import { startPlans } from "../../src/sync/plans.ts";
import { DEVICE, OTHER } from "../support/server.ts";
import { onStage } from "../support/stage.ts";

onStage();

let asked = 0;
let answers = true;
let stop: () => void = () => {};

beforeEach(async () => {
  asked = 0;
  answers = true;
  globalThis.fetch = (async () => {
    asked += 1;
    if (!answers) throw new TypeError("no network");
    return new Response(JSON.stringify({ plans: [] }), { headers: { ETag: '"1"' } });
  }) as typeof fetch;
  const db = await home();
  await db.clear("accounts");
  await db.put("accounts", currentAccount() as never);
  await db.put("settings", { name: "current", value: DEVICE });
  await openAccounts();
  // What is in memory is somebody else's, so that the disk is read.
  await useCopy(OTHER);
  await readPlans();
  await useCopy(DEVICE);
  setSyncState({ last_at: null, running: false });
  stop = startPlans();
});

afterEach(() => stop());

const MINUTE_MS = 60_000;

async function exchange(after_ms: number): Promise<void> {
  setSyncState({ running: true });
  setSyncState({ last_at: (openCopy()?.nowMs() ?? 0) + after_ms, running: false });
  await new Promise((resolve) => setTimeout(resolve, 30));
}

test("the first exchange asks, those of the next minutes do not, and one after ten minutes does", async () => {
  await exchange(0);
  assert.equal(asked, 1);
  for (let minute = 1; minute < 10; minute++) await exchange(minute * MINUTE_MS);
  assert.equal(asked, 1);
  await exchange(11 * MINUTE_MS);
  assert.equal(asked, 2);
});

test("other news of the exchange asks for nothing", async () => {
  await exchange(0);
  setSyncState({ running: true, waiting: 3 });
  setSyncState({ running: false, waiting: 0 });
  await new Promise((resolve) => setTimeout(resolve, 30));
  assert.equal(asked, 1);
});

test("a phone that got no answer asks again with the next exchange", async () => {
  answers = false;
  await exchange(0);
  answers = true;
  await exchange(MINUTE_MS);
  assert.equal(asked, 2);
  await exchange(2 * MINUTE_MS);
  assert.equal(asked, 2);
});

test("a phone whose clock was turned back by hours asks", async () => {
  await exchange(0);
  await exchange(-180 * MINUTE_MS);
  assert.equal(asked, 2);
});
