/** Bars in rows: nothing lies over anything else, each has room for a finger, and hangs what it must on its ends. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeAxis } from "../../src/plan/axis.ts";
import { lanesOf, roomOf } from "../../src/plan/lanes.ts";
import { linesOf, makeRows, TAP_PX } from "../../src/plan/rows.ts";
import type { PlanStep } from "../../src/plan/types.ts";

const HOURS = { zone: "UTC", day_starts: "08:00", day_ends: "18:00", work_days: "1234567" };
const AXIS = makeAxis(["2026-03-05", "2026-03-06", "2026-03-07"], HOURS, {
  ...{ hour: 40, night: 20, free: 20 },
});

const step = (id: string, from: string, to: string, more: Partial<PlanStep> = {}): PlanStep => ({
  ...{ step_id: id, start_at: from, end_at: to, member_ids: ["ana"], why: null, missed: false },
  ...{ cure_until_at: null, opens_at: null, closes_at: null },
  ...more,
});

const at = (hour: number, day = 5): string =>
  `2026-03-0${day}T${String(hour).padStart(2, "0")}:00:00Z`;

const byPerson = (_: PlanStep, ids: readonly string[]) => ids;

/** A small generator of its own, so that a failure can be played again. */
function draws(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state * 1_103_515_245 + 12_345) % 2_147_483_648;
    return state / 2_147_483_648;
  };
}

test("in each lane nothing reaches into the next, whatever is put there", () => {
  for (let seed = 1; seed <= 200; seed++) {
    const draw = draws(seed);
    const reaches = Array.from({ length: 1 + Math.floor(draw() * 40) }, () => {
      const from = draw() * 1000;
      return { from, to: from + 48 + draw() * 300 };
    });
    const { lane, count } = lanesOf(reaches);
    const room = roomOf(reaches, lane, 5000);
    assert.ok(lane.every((n) => n < count));
    reaches.forEach((one, n) => {
      reaches.forEach((other, m) => {
        if (n === m || lane[n] !== lane[m]) return;
        assert.ok(one.to <= other.from || other.to <= one.from, `seed ${seed}`);
        if (other.from >= one.to) assert.ok((room[n] ?? 0) <= other.from, `seed ${seed}`);
      });
    });
  }
});

test("no more lanes are opened than reach over one another at one place", () => {
  const { count } = lanesOf([
    { from: 0, to: 10 },
    { from: 10, to: 20 },
    { from: 5, to: 15 },
    { from: 20, to: 30 },
  ]);
  assert.equal(count, 2);
});

test("two short steps one after the other lie in two lanes, so that a glove hits one", () => {
  const steps = [
    step("a", at(8), "2026-03-05T08:15:00Z"),
    step("b", "2026-03-05T08:15:00Z", at(9)),
  ];
  const [row] = makeRows(steps, AXIS, byPerson, []);
  assert.equal(row?.lanes, 2);
  assert.ok(40 / 4 < TAP_PX);
});

test("a step in two days is two bars, with its window on the first and its cure on the last", () => {
  const pieces = [
    { start_at: at(16), end_at: at(18), member_ids: ["ana"] },
    { start_at: at(8, 6), end_at: at(10, 6), member_ids: ["ana", "ben"] },
  ];
  const coat = step("coat", at(16), at(10, 6), {
    ...{ pieces, cure_until_at: at(20, 6), opens_at: at(12), closes_at: at(12, 6), missed: true },
  });
  const rows = makeRows([coat], AXIS, byPerson, ["ben", "ana"]);
  assert.deepEqual(
    rows.map(({ id, bars }) => [id, bars.length]),
    [
      ["ben", 1],
      ["ana", 2],
    ],
  );
  const [first, last] = rows[1]?.bars ?? [];
  assert.ok(first?.window && !first.cure && first.missed);
  assert.ok(last?.cure && !last.window && !last.missed);
  assert.ok(last.cure.from === last.x + last.width && last.cure.to > last.cure.from);
});

test("a window that stays open for long is drawn as going on", () => {
  const soon = step("a", at(8), at(9), { opens_at: at(8), closes_at: at(10) });
  const long = step("b", at(8), at(9), { opens_at: at(8), closes_at: at(18, 7) });
  const open = step("c", at(8), at(9), { opens_at: at(8) });
  const ends = [soon, long, open].map(
    (one) => makeRows([one], AXIS, byPerson, [])[0]?.bars[0]?.window?.goes_on,
  );
  assert.deepEqual(ends, [false, true, true]);
});

test("what lies before or after the days that are drawn is left out", () => {
  const old = step("a", "2026-03-01T08:00:00Z", "2026-03-01T09:00:00Z");
  assert.deepEqual(makeRows([old], AXIS, byPerson, []), []);
});

test("what was laid before the first day and still cures is drawn with its cure", () => {
  const old = step("a", "2026-03-04T08:00:00Z", "2026-03-04T09:00:00Z", { cure_until_at: at(12) });
  const bar = makeRows([old], AXIS, byPerson, [])[0]?.bars[0];
  assert.ok(bar?.cure && bar.cure.to > 0);
});

test("the list by day has a line for each stretch, in the order of the clock", () => {
  const pieces = [
    { start_at: at(9), end_at: at(18), member_ids: ["ana"] },
    { start_at: at(8, 6), end_at: at(10, 6), member_ids: ["ana"] },
  ];
  const lines = linesOf([step("b", at(7, 6), at(8, 6)), step("a", at(9), at(10, 6), { pieces })]);
  assert.deepEqual(
    lines.map((line) => [line.step.step_id, line.first]),
    [
      ["a", true],
      ["b", true],
      ["a", false],
    ],
  );
});
