/** What rings for me: mine, due, of use, not seen, not put off. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import type { Item, Rec } from "../../src/merge/state.ts";
import { absorb } from "../../src/store/absorb.ts";
import { me, openAccounts } from "../../src/store/accounts.ts";
import { markHandled, markSeen, putOff, setRule } from "../../src/store/acts/index.ts";
import { clocks, myDay, questions, stepStates } from "../../src/store/derived.ts";
import { home } from "../../src/store/home.ts";
import { openCopy, publish, useCopy } from "../../src/store/local.ts";
import { setClockOffset } from "../../src/store/now.ts";
import { ringing, warnings } from "../../src/store/warnings.ts";
import { freshDisk } from "../support/phone.ts";
import { DEVICE, MEMBER, OTHER, REFIT, Server, stamp } from "../support/server.ts";

const HOUR_MS = 3_600_000;
const profile = JSON.parse(
  readFileSync("../fixtures/profiles/epoxy_barrier_primer.json", "utf8"),
) as Record<string, string>;

const iso = (ms: number): string => new Date(ms).toISOString();
const item = (kind: string, id: string, fields: Item["fields"], sets: Item["sets"] = {}): Item => ({
  ...{ kind, id, at: stamp(1), fields, stamps: {}, sets },
});

function coat(id: string, device: string, start: number): Rec {
  const times = { start_at: iso(start), end_at: iso(start + HOUR_MS / 2) };
  const body = { step_id: "s1", product_id: "p", profile, ...times };
  return { kind: "application", id, at: stamp(2, device), body, replaces: null, void: false };
}

const finished: Rec = {
  ...{ kind: "mark", id: "f1", at: stamp(3), replaces: null, void: false },
  body: { step_id: "s1", mark: "finished", marked_at: iso(Date.now()) },
};

const mine = { assignees: { [MEMBER]: [stamp(1)] } };
const began = Date.now() - HOUR_MS;

before(async () => {
  freshDisk();
  const db = await home();
  await db.put("accounts", {
    ...{ device_id: DEVICE, key: "k", refit_id: REFIT, member_id: MEMBER, role: "owner" },
    ...{ refit_name: "", member_name: "", language: "en", key_revoked: false },
  });
  await db.put("settings", { name: "current", value: DEVICE });
  await openAccounts();
  const copy = openCopy();
  assert.ok(copy);
  await absorb(copy, {
    ...{ epoch: "e", server_time: "", clock: null, acknowledged_n: 0, refused: [] },
    changes: [
      ...[...new Server().filed.values()].map((one) => one.row),
      item("device", "phone0000009", { member_id: "member-2" }),
      item("member", "member-2", { name: "Rui", role: "hand" }),
      item("product", "p", { name: "Primer", profile }),
      item("job", "j", { title: "Primer" }),
      item("step", "s1", { job_id: "j", kind: "coat", title: "Coat 1" }, mine),
      item("step", "s2", { job_id: "j", kind: "coat", title: "Coat 2" }, mine),
      item("step", "s3", { job_id: "j", kind: "fit" }, { assignees: { "member-2": [stamp(1)] } }),
      item("link", "l1", { step_id: "s2", after_id: "s1", by_cure: true }),
      coat("a1", OTHER, began),
      finished,
    ],
    ...{ differences: [], cursor: 9, more: false, reset: false },
  });
  publish();
});

after(() => useCopy(null));

test("a coat that cures has its clocks, and the next one waits for it", () => {
  assert.equal(me.peek()?.member_id, MEMBER);
  assert.equal(stepStates.value.get("s1"), "curing");
  assert.equal(stepStates.value.get("s2"), "waiting");
  const opens = clocks.value.find((row) => row.kind === "recoat_opens");
  assert.ok(opens?.running && (opens.at ?? 0) > began + HOUR_MS);
  assert.equal(opens.product_name, "Primer");
  assert.deepEqual(
    myDay.value.map((row) => [row.step.id, row.state, row.waits_for]),
    [
      ["s1", "curing", []],
      ["s2", "waiting", ["s1"]],
    ],
    "the step of somebody else is not mine",
  );
});

/** What rings of the window; whether a reading is asked for too depends on the hour of the test. */
const opened = () => ringing.value.filter((row) => row.kind.startsWith("recoat"));

test("it rings when it opens, until it is seen", async () => {
  assert.equal(opened().length, 0);
  const due = warnings.value.find((row) => row.kind === "recoat_open");
  assert.ok(due);
  assert.ok(due.recipients.includes(MEMBER));
  setClockOffset(due.due_at - Date.now() - 5_000);
  assert.equal(opened().length, 0);
  setClockOffset(due.due_at - Date.now() + 20_000);
  assert.deepEqual(
    opened().map((row) => row.alarm_id),
    ["a1.recoat_open"],
  );
  assert.equal(stepStates.value.get("s2"), "ready");
  await putOff("a1.recoat_open", 10);
  assert.equal(opened().length, 0);
  setClockOffset(due.due_at - Date.now() + 11 * 60_000 + 20_000);
  assert.equal(opened().length, 1);
  await markSeen("a1.recoat_open");
  assert.equal(opened().length, 0);
  assert.ok(warnings.value.find((row) => row.alarm_id === "a1.recoat_open")?.seen);
});

test("two people who wrote down one coat are asked, and the answer ends it", async () => {
  const copy = openCopy();
  assert.ok(copy);
  assert.equal(questions.value.length, 0);
  copy.board.takeBase([coat("a2", "phone0000009", began + HOUR_MS)], []);
  copy.board.takeBase([coat("a3", "phone0000009", began + 9 * HOUR_MS)], []);
  copy.board.takeBase([coat("a4", OTHER, began - 1.5 * HOUR_MS)], []);
  copy.board.setOperations([]);
  publish();
  const pairs = questions.value.map(({ first, second }) => [first.id, second.id].sort());
  assert.deepEqual(
    pairs,
    [["a1", "a2"]],
    "not the coat of the evening, nor two coats of one person",
  );
  const body = { first_id: "a2", second_id: "a1", answer: "one_coat" };
  const answer = { kind: "answer", id: "q", at: stamp(9), body, replaces: null, void: false };
  copy.board.takeBase([answer], []);
  copy.board.setOperations([]);
  publish();
  assert.equal(questions.value.length, 0);
});

test("what was put off rings again, and what somebody dealt with rings nobody", async () => {
  const due = warnings.value.find((row) => row.kind === "recoat_closing");
  assert.ok(due);
  setClockOffset(due.due_at - Date.now() + 20_000);
  const rings = () => ringing.value.some((row) => row.alarm_id === due.alarm_id);
  assert.ok(rings());
  await putOff(due.alarm_id, 10);
  assert.ok(!rings());
  setClockOffset(due.due_at - Date.now() + 11 * 60_000);
  assert.ok(rings(), "once more");
  const [again] = ringing.value.filter((row) => row.alarm_id === due.alarm_id);
  assert.ok((again?.due_at ?? 0) > due.due_at + 9 * 60_000, "for a later instant: it sounds again");
  await markHandled(due.alarm_id);
  assert.ok(!rings());
});

test("an alarm that moved past the hour to which it was put off rings when it is due", async () => {
  const missed = warnings.value.find((row) => row.kind === "recoat_missed");
  assert.ok(missed);
  setClockOffset(missed.due_at - Date.now() - 60 * 60_000);
  await putOff(missed.alarm_id, 10);
  setClockOffset(missed.due_at - Date.now() + 1_000);
  assert.ok(ringing.value.some((row) => row.alarm_id === missed.alarm_id));
});

test("a rule for this person switches a kind off, one for another person does not", async () => {
  const off = { step_id: null, kind: "recoat_missed" };
  const mine = () =>
    warnings.value.some((row) => row.kind === "recoat_missed" && row.recipients.includes(MEMBER));
  assert.ok(mine());
  await setRule({ member_id: "member-2", ...off }, { off: true });
  assert.ok(mine());
  await setRule({ member_id: MEMBER, ...off }, { off: true });
  assert.ok(!mine());
  await setRule({ member_id: MEMBER, ...off }, { off: null });
  assert.ok(mine(), "the same rule, changed");
});
