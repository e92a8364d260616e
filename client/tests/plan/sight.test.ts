/** What of a timeline is drawn: never less than is in sight, and not all of it. */
import assert from "node:assert/strict";
import { test } from "node:test";
import type { Reach } from "../../src/plan/lanes.ts";
import { barMeets, drawnFor, meets } from "../../src/plan/sight.ts";

const WIDTH = 360;

test("wherever one pushes the days, all that is in sight is drawn", () => {
  let drawn: Reach | null = null;
  for (let n = 0; n < 2000; n++) {
    const left = Math.abs(Math.sin(n * n)) * 50_000;
    drawn = drawnFor(left, WIDTH, drawn);
    assert.ok(drawn.from <= left && drawn.to >= left + WIDTH);
    assert.ok(Math.round(drawn.to - drawn.from) <= 5 * WIDTH);
  }
});

test("a small push draws nothing anew, and a large one does", () => {
  const drawn = drawnFor(5000, WIDTH, null);
  assert.equal(drawnFor(5100, WIDTH, drawn), drawn);
  assert.equal(drawnFor(4900, WIDTH, drawn), drawn);
  assert.notEqual(drawnFor(5000 + 2 * WIDTH, WIDTH, drawn), drawn);
  assert.notEqual(drawnFor(5000 - 2 * WIDTH, WIDTH, drawn), drawn);
});

test("a screen that became wider has more drawn", () => {
  const drawn = drawnFor(5000, WIDTH, null);
  assert.ok(drawnFor(5000, 4 * WIDTH, drawn).to >= 5000 + 4 * WIDTH);
});

test("what only begins or ends in sight is in it, and words beside a short bar count", () => {
  const sight = { from: 1000, to: 2000 };
  assert.ok(meets({ from: 0, to: 1000 }, sight));
  assert.ok(meets({ from: 500, to: 2500 }, sight));
  assert.ok(!meets({ from: 2001, to: 2500 }, sight));
  assert.ok(barMeets({ reach: { from: 700, to: 750 } }, sight));
  assert.ok(!barMeets({ reach: { from: 100, to: 150 } }, sight));
});
