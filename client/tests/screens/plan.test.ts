/** Codes of a plan as sentences: each says as much as is known, and never shows a hole or a code where it has words. */
import assert from "node:assert/strict";
import { test } from "node:test";
import english from "../../src/words/en.json" with { type: "json" };

Object.assign(globalThis, { location: { hash: "" }, addEventListener: () => {} });
const { cannotInWords, lateInWords, percent, problemInWords, whyInWords, windowInWords } =
  await import("../../src/screens/plan/planwords.ts");

const LATER = "2031-03-04T08:00:00Z";
const step = { opens_at: null, closes_at: null, missed: false, cure_until_at: null };
const window = (more: object): string => windowInWords({ ...step, ...more } as never);

test("a reason says as much as its parameters allow, and the least without any", () => {
  const said = (params: Record<string, string> | null) => whyInWords({ code: "hours", params });
  assert.match(
    said({ until_at: LATER }),
    /^Here because nobody works before .+\s2031 \d\d:\d\d\.$/,
  );
  assert.equal(said({}), english["plan.why_hours_bare"]);
  assert.equal(said(null), english["plan.why_hours_bare"]);
  assert.equal(whyInWords(null), "");
});

test("a reason with the other step alone says that step", () => {
  const said = whyInWords({ code: "window", params: { step_id: "s1" } });
  assert.ok(said.startsWith("Here because earlier it would miss the window of this"), said);
});

test("no code of a reason, with no parameters at all, shows a hole", () => {
  const codes = Object.keys(english)
    .map((key) => /^plan\.why_([a-z]+)/.exec(key)?.[1])
    .filter((code) => code !== undefined);
  assert.ok(new Set(codes).size >= 11);
  for (const code of codes) {
    const said = whyInWords({ code, params: {} });
    assert.ok(said && !/[{}]/.test(said), `${code}: ${said}`);
  }
});

test("a code from a newer server is shown as it came, in a sentence", () => {
  const cannot = { step_ids: [], code: "no_such_code", params: {}, buys_on: null };
  assert.equal(cannotInWords(cannot), "It does not fit (no such code).");
  assert.equal(problemInWords({ code: "no-such-code" }), "");
});

test("what costs hours, days or skills says how many and which", () => {
  const said = (code: string, params: Record<string, string | number>) =>
    cannotInWords({ step_ids: [], code, params, buys_on: null });
  assert.equal(said("hours", { hours: 2 }), "Longer days: 2 h more each day.");
  assert.equal(
    said("skill", { n: 2, skill_id: "laminating" }),
    "Too few in the crew can do this: 2 more are needed who know laminating.",
  );
  assert.match(said("person", { n: 1, on: "2031-03-04" }), /^One more pair of hands .+\s2031\.$/);
  assert.equal(said("person", {}), "One more pair of hands.");
});

test("a missed window is said before all else of it", () => {
  assert.match(window({ opens_at: LATER, closes_at: LATER, missed: true }), /sand first$/);
  assert.match(window({ opens_at: LATER, closes_at: LATER }), /^May start from .+ until /);
  assert.match(window({ closes_at: LATER }), /^Must start by /);
  assert.match(window({ opens_at: LATER }), /^May start from /);
  assert.equal(window({}), "");
});

test("in time and late are words, a chance has its sign, and no figure leaves its unit", () => {
  assert.equal(lateInWords(0), "in time");
  assert.equal(lateInWords(3 * 86_400 + 7200), "3\u00a0d\u00a02\u00a0h late");
  assert.equal(percent(0.256), "26\u00a0%");
});
