/** A phone that two hands share: each has a copy, an outbox and a key of their own. */
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import {
  accounts,
  markRevoked,
  me,
  openAccounts,
  switchAccount,
} from "../../src/store/accounts.ts";
import { createZone } from "../../src/store/acts/index.ts";
import { home } from "../../src/store/home.ts";
import { openCopy, useCopy } from "../../src/store/local.ts";
import { currentAccount } from "../../src/store/session.ts";
import { view } from "../../src/store/view.ts";
import { freshDisk } from "../support/phone.ts";
import { DEVICE, OTHER, REFIT } from "../support/server.ts";

const account = (device_id: string, member_id: string) => ({
  ...{ device_id, key: `key of ${member_id}`, refit_id: REFIT, member_id, role: "hand" as const },
  ...{ refit_name: "Heron", member_name: member_id, language: "en", key_revoked: false },
});

const zones = (): string[] =>
  view
    .peek()
    .items("zone")
    .map((row) => row.fields.name as string);

before(async () => {
  freshDisk();
  const db = await home();
  await db.put("accounts", account(DEVICE, "Ines"));
  await db.put("accounts", account(OTHER, "Rui"));
  await db.put("settings", { name: "current", value: DEVICE });
  await openAccounts();
});

after(() => useCopy(null));

test("each sees and numbers their own work, under their own key", async () => {
  await createZone({ name: "by Ines" });
  assert.deepEqual(
    accounts.peek().map((row) => row.member_name),
    ["Ines", "Rui"],
  );
  await switchAccount(OTHER);
  assert.equal(me.peek()?.member_id, "Rui");
  assert.equal(currentAccount()?.key, "key of Rui");
  assert.deepEqual(zones(), []);
  await createZone({ name: "by Rui" });
  assert.deepEqual(await openCopy()?.db.getAllKeys("operations"), [1]);
  await switchAccount(DEVICE);
  assert.deepEqual(zones(), ["by Ines"]);
});

test("who used the phone last is who it opens with", async () => {
  await switchAccount(OTHER);
  await openAccounts();
  assert.equal(me.peek()?.member_id, "Rui");
  assert.deepEqual(zones(), ["by Rui"]);
});

test("a withdrawn key stays withdrawn, and the work under it stays readable and writable", async () => {
  await markRevoked(OTHER);
  await openAccounts();
  assert.equal(me.peek()?.key_revoked, true);
  await createZone({ name: "still writing" });
  assert.deepEqual(zones(), ["by Rui", "still writing"]);
  await switchAccount(DEVICE);
  assert.equal(me.peek()?.key_revoked, false);
});
