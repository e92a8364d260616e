/** The arrows: along a row, from row to row by the nearest in time, and to a row's ends, whatever is drawn. */
import assert from "node:assert/strict";
import { test } from "node:test";
import type { Row } from "../../src/plan/rows.ts";
import { spotAfter } from "../../src/screens/plan/keys.ts";

const row = (id: string, ...xs: number[]): Row => ({
  ...{ id, lanes: 1, bars: xs.map((x) => ({ x })) as Row["bars"] },
});
const ROWS = [row("ana", 0, 100, 5000), row("ben", 90, 4000, 5200), row("none"), row("cy", 7)];
const after = (key: string, row: number, bar: number) => spotAfter(key, { row, bar }, ROWS);

test("arrows go along a row and stop at its ends", () => {
  assert.deepEqual(after("ArrowRight", 0, 0), { row: 0, bar: 1 });
  assert.deepEqual(after("ArrowLeft", 0, 2), { row: 0, bar: 1 });
  assert.equal(after("ArrowRight", 0, 2), undefined);
  assert.equal(after("ArrowLeft", 0, 0), undefined);
  assert.deepEqual(after("End", 0, 0), { row: 0, bar: 2 });
  assert.deepEqual(after("Home", 0, 2), { row: 0, bar: 0 });
});

test("arrows across go to what begins nearest in time", () => {
  assert.deepEqual(after("ArrowDown", 0, 1), { row: 1, bar: 0 });
  assert.deepEqual(after("ArrowDown", 0, 2), { row: 1, bar: 2 });
  assert.deepEqual(after("ArrowUp", 1, 1), { row: 0, bar: 2 });
  assert.equal(after("ArrowUp", 0, 0), undefined);
  assert.equal(after("ArrowDown", 3, 0), undefined);
});

test("a row without bars leads nowhere, and other keys are left alone", () => {
  assert.equal(after("ArrowDown", 1, 0), undefined);
  assert.equal(after("a", 0, 0), undefined);
});
