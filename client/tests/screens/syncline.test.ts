/** What the line that is always in sight says of the sending: never that all is sent before the refit has come. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { setSyncState } from "../../src/store/syncState.ts";

Object.assign(globalThis, { location: { hash: "" }, addEventListener: () => {} });
const { syncWords } = await import("../../src/parts/syncline.tsx");

beforeEach(() => {
  setSyncState({ waiting: 0, need_you: 0, photos_waiting: 0, photo_pct: null, online: true });
  setSyncState({ trouble: "", met: true, entries: 40, parts: 0, parts_here: 0, full: false });
});

const said = (change: Parameters<typeof setSyncState>[0]) => {
  setSyncState(change);
  return syncWords();
};

test("a phone that has the refit and owes nothing says that all is sent", () => {
  assert.deepEqual(said({}), { words: ["All sent"], tone: "plain" });
  assert.deepEqual(said({ online: false }).words, ["All sent", "no signal"]);
});

test("until the refit has come the line says that it is fetched, and how much is here", () => {
  const coming = { met: false, entries: 0 };
  assert.deepEqual(said(coming), { words: ["Fetching the refit"], tone: "waiting" });
  assert.deepEqual(said({ entries: 5000 }).words, ["Fetching the refit, 5,000 entries here"]);
  assert.deepEqual(said({ parts: 9, parts_here: 2 }).words, [
    "Fetching the refit, 2 of 9 parts here",
  ]);
  assert.deepEqual(said({ online: false, waiting: 1 }).words, [
    "The refit is not here yet, no signal",
    "1 waiting for signal",
  ]);
});

test("a full phone is said first and loudest", () => {
  const { words, tone } = said({ full: true, waiting: 2, online: false });
  assert.deepEqual(words, ["This phone is full: nothing more can be kept", "2 waiting for signal"]);
  assert.equal(tone, "gone");
});
