/** The shared vectors of the clock sums, without any server: what the phone is held to. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { answer } from "../../src/clocks/by_name.ts";

// biome-ignore lint/suspicious/noExplicitAny: vectors are plain JSON
type Json = any;

const FOLDER = join("..", "fixtures", "vectors", "trade");
const ISO = /^\d{4}-\d\d-\d\dT/;

function check(got: Json, expected: Json, vector: Json, where: string): void {
  if (typeof expected === "number") {
    const slack = Math.max(vector.abs ?? 1e-9, Math.abs(expected) * (vector.rel ?? 1e-9));
    assert.ok(Math.abs(got - expected) <= slack, `${where}: ${got}, expected ${expected}`);
  } else if (typeof expected === "string" && ISO.test(expected)) {
    const apart = Math.abs(Date.parse(got) - Date.parse(expected));
    assert.ok(apart < 1000, `${where}: ${got}, expected ${expected}`);
  } else if (Array.isArray(expected)) {
    assert.equal(got.length, expected.length, where);
    expected.forEach((one, i) => {
      check(got[i], one, vector, `${where}[${i}]`);
    });
  } else if (expected !== null && typeof expected === "object") {
    for (const [name, value] of Object.entries(expected)) {
      check(got[name], value, vector, `${where}.${name}`);
    }
  } else {
    assert.deepEqual(got, expected, where);
  }
}

const names = readdirSync(FOLDER).filter((name) => name !== "outside.json");

test("there are vectors", () => assert.ok(names.length >= 7));

for (const name of names) {
  for (const vector of JSON.parse(readFileSync(join(FOLDER, name), "utf8"))) {
    test(`${name} ${vector.id}, by ${vector.source}`, () => {
      const got: Json = answer({ fn: vector.fn, input: vector.inputs });
      const refused = vector.expected?.error !== undefined;
      check(got, refused ? vector.expected : { output: vector.expected }, vector, vector.fn);
    });
  }
}
