/** What the phone relies on in the clock sums beyond the shared vectors. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { coatClock } from "../../src/clocks/cure.ts";
import { TradeError } from "../../src/clocks/errors.ts";
import { isoOf, readInstant } from "../../src/clocks/instants.ts";
import { bisectLeft, bisectRight, nth } from "../../src/clocks/lists.ts";
import { trackOf } from "../../src/clocks/temperature.ts";
import type { Clock, Profile, Reading } from "../../src/clocks/types.ts";
import { warningsOf, whatMoved } from "../../src/clocks/warnings.ts";

const START = Date.UTC(2026, 3, 10, 12);
const HOUR = 3600 * 1000;
const CURVE = { min_c: 10, max_c: 20, hour_of_max: 15, utc_offset_s: 0 };

function profile(id: string): Profile {
  return JSON.parse(readFileSync(join("..", "fixtures", "profiles", `${id}.json`), "utf8"));
}

function reading(hour: number, surface_c: number): Reading {
  return { at: START + hour * HOUR, air_c: null, surface_c, rh_pct: null };
}

function clocks(id: string, readings: readonly Reading[], end_at: number | null = START): Clock[] {
  const coat = { id: "c1", profile: profile(id), start_at: START, end_at };
  return coatClock(coat, trackOf(readings, CURVE, START), START);
}

test("a profile file is a profile without any change", () => {
  const stages = clocks("epoxy_barrier_primer", [reading(0, 18)]).map((clock) => clock.stage);
  assert.deepEqual(stages, [
    "touch_dry",
    "recoat_opens",
    "recoat_closes",
    "sandable",
    "immerse_opens",
  ]);
});

test("a new reading moves the clocks, keeps the ids and says what moved", () => {
  const before = warningsOf(clocks("epoxy_barrier_primer", [reading(0, 18)]));
  const after = warningsOf(clocks("epoxy_barrier_primer", [reading(0, 18), reading(2, 28)]));
  assert.deepEqual(
    before.map((warning) => warning.id),
    after.map((warning) => warning.id),
  );
  const moved = whatMoved(before, after);
  assert.ok(moved.some((one) => one.id === "c1.recoat_open" && one.to_at < one.from_at));
  assert.deepEqual(whatMoved(after, after), []);
});

test("what opens is told by the slow edge, what closes by the fast edge", () => {
  for (const clock of clocks("topcoat_two_part_pu", [reading(0, 22)])) {
    const careful = clock.kind === "opens" ? clock.slow_at : clock.fast_at;
    assert.equal(clock.governing_at, careful);
    assert.ok(Number.isInteger(clock.governing_at));
  }
});

test("fourteen days of hourly readings are summed in a blink", () => {
  const fortnight = Array.from({ length: 14 * 24 }, (_, h) => reading(h, 14 + 6 * Math.cos(h / 4)));
  const found = clocks("epoxy_barrier_primer", fortnight, START + 4 * HOUR);
  const from = performance.now();
  for (let i = 0; i < 20; i += 1) clocks("epoxy_barrier_primer", fortnight, START + 4 * HOUR);
  assert.ok(found.every((clock) => !clock.reasons.includes("not_within_horizon")));
  assert.ok((performance.now() - from) / 20 < 100);
});

test("an instant without its zone, or none at all, is refused by name", () => {
  assert.equal(readInstant("2026-04-10T14:00:00+02:00"), START);
  assert.equal(isoOf(START), "2026-04-10T12:00:00.000Z");
  for (const text of ["2026-04-10T12:00:00", "2026-13-40T12:00:00Z", "noon"]) {
    assert.throws(
      () => readInstant(text, "start_at"),
      (error) => error instanceof TradeError && error.field === "start_at",
    );
  }
});

test("bisection finds the same places as the server's library", () => {
  const items = [1, 2, 2, 5];
  const item = (i: number) => nth(items, i);
  const places = [0, 1, 2, 3, 5, 6].map((value) => [
    bisectLeft(items.length, value, item),
    bisectRight(items.length, value, item),
  ]);
  assert.deepEqual(places, [
    [0, 0],
    [0, 1],
    [1, 3],
    [3, 3],
    [3, 4],
    [4, 4],
  ]);
  assert.throws(() => nth(items, 4), RangeError);
});
