/** The browser's data are cleared while the page is open: what was written and not sent is in its memory, and put back. */
import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { deleteDB } from "idb";
import { openAccounts } from "../../src/store/accounts.ts";
import { HOME, phoneName } from "../../src/store/db.ts";
import { home } from "../../src/store/home.ts";
import { commit, openCopy, useCopy } from "../../src/store/local.ts";
import { currentAccount, setAccount } from "../../src/store/session.ts";
import { turn } from "../../src/sync/turn.ts";
import { freshDisk, note } from "../support/phone.ts";
import { DEVICE, MEMBER, REFIT, Server } from "../support/server.ts";

const account = {
  ...{ device_id: DEVICE, key: "k", refit_id: REFIT, member_id: MEMBER, role: "owner" as const },
  ...{ refit_name: "Heron", member_name: "Ines", language: "en", key_revoked: false },
};
const server = new Server();

beforeEach(async () => {
  freshDisk();
  globalThis.fetch = server.fetch as typeof fetch;
  const db = await home();
  await db.put("accounts", account);
  await db.put("settings", { name: "current", value: DEVICE });
  await openAccounts();
  await exchanged();
});
afterEach(async () => {
  await useCopy(null);
  setAccount(null);
});

async function exchanged(): Promise<void> {
  const copy = openCopy();
  assert.ok(copy);
  assert.equal((await turn(copy, account, { taken: () => {} })).kind, "done");
}

test("what waits is put back and sent under its own numbers, and the key with it", async () => {
  await commit("log_note", [note("n1", "sent before")]);
  await exchanged();
  await commit("log_note", [note("n2", "not sent yet")]);
  const list = await home();
  await deleteDB(phoneName(DEVICE));
  await list.clear("accounts");
  await list.clear("settings");
  await commit("log_note", [note("n3", "written after the loss")]);
  assert.deepEqual(
    (await openCopy()?.db.getAll("operations"))?.map((row) => [row.n, row.status]),
    [
      [2, "waiting"],
      [3, "waiting"],
    ],
  );
  assert.equal(openCopy()?.board.view().items("refit").length, 1, "the refit is still here");
  await exchanged();
  for (const id of ["n1", "n2", "n3"]) assert.ok(server.record(id), id);
  assert.equal(server.phone(DEVICE).last_n, 3);
  assert.equal(openCopy()?.board.view().records("note").length, 3);
  setAccount(null);
  await openAccounts();
  assert.equal(currentAccount()?.key, "k", "the next visit finds the key");
  assert.equal(openCopy()?.board.view().records("note").length, 3);
  assert.equal(HOME, list.name);
});
