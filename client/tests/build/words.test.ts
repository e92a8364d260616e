/** The words of the first load: all that its sources name, nothing else, and the rest with the first fetched screen. */
import assert from "node:assert/strict";
import { test } from "node:test";
// @ts-expect-error: a plain script of the build
import { keysNamedIn } from "../../build_words.mjs";
import english from "../../src/words/en.json" with { type: "json" };

const KEYS = ["go.save", "go.leave", "kind.sand", "kind.coat", "sync.too_old", "crew.title"];
const named = (...sources: string[]): string[] => keysNamedIn(sources, KEYS);

test("a key is taken where it is named in full, by a template, or by its prefix", () => {
  assert.deepEqual(named('say("go.save")'), ["go.save"]);
  assert.deepEqual(named("const KEY: Key = 'crew.title';"), ["crew.title"]);
  assert.deepEqual(named("say(`sync.$" + "{trouble}`)"), ["sync.too_old"]);
  assert.deepEqual(named('sayOf(\n  "kind", name)'), ["kind.sand", "kind.coat"]);
  assert.deepEqual(named('import "./go.save.ts"; // go.leave', 'say("go.other")'), []);
});

test("a prefix that the source does not show fails the build", () => {
  assert.throws(() => named("sayOf(prefix, name)"), /sayOf\(prefix/);
});

test("every key is of the form that the build reads", () => {
  for (const key of Object.keys(english))
    assert.deepEqual(keysNamedIn([`say("${key}")`], Object.keys(english)), [key]);
});
