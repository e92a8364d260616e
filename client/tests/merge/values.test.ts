/** Values that the two languages would see differently if nobody took care. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { RefusedError } from "../../src/merge/refused.ts";
import type { Json } from "../../src/merge/state.ts";
import { check, short } from "../../src/merge/values.ts";

const refused = (type: string, value: Json, rest: object = {}): string => {
  try {
    check({ type, ...rest }, value, "x");
    return "";
  } catch (error) {
    assert.ok(error instanceof RefusedError);
    return error.code;
  }
};

test("the length of a text is counted in characters, not in UTF-16 units", () => {
  assert.equal(refused("text", "🛠".repeat(120), { most: 120 }), "");
  assert.equal(refused("text", "🛠".repeat(121), { most: 120 }), "value-not-valid");
});

test("half a character is refused, since no database keeps it", () => {
  assert.equal(refused("text", "a\ud83d"), "value-not-valid");
  assert.equal(refused("text", "a\0"), "value-not-valid");
});

test("a required text of blanks is empty", () => {
  assert.equal(refused("text", " \u2003\t", { required: true }), "value-not-valid");
  assert.equal(refused("text", "\ufeff", { required: true }), "");
});

test("instants and dates exist in the calendar", () => {
  assert.equal(refused("instant", "2028-02-29T23:59:59.5Z"), "");
  for (const text of [
    "2027-02-29T00:00:00Z",
    "2026-03-02T24:00:00Z",
    "2026-03-02T08:00:00+00:00",
  ]) {
    assert.equal(refused("instant", text), "value-not-valid", text);
  }
  assert.equal(refused("date", "2026-04-31"), "value-not-valid");
  assert.equal(refused("date", "2026-04-30"), "");
});

test("limits are written as C writes %g", () => {
  // Source: ISO C, 7.21.6.1, conversion g; values as printed by a C compiler's printf, from memory.
  const written = [0, 1, 23.999, 120, 100000, 1e6, 34560000, 1e12, -1e12, 0.0001, 0.00001];
  assert.deepEqual(written.map(short), [
    ...["0", "1", "23.999", "120", "100000", "1e+06", "3.456e+07", "1e+12", "-1e+12"],
    ...["0.0001", "1e-05"],
  ]);
});
