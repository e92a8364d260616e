/** Every code that the server says of a plan has a sentence on the phone, in each language. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import english from "../../src/words/en.json" with { type: "json" };

const SERVER = join(process.cwd(), "..", "server", "tackwatch");
const read = (...path: string[]): string => readFileSync(join(SERVER, ...path), "utf8");
const has = (key: string): boolean => key in english || `${key}_bare` in english;

function found(text: string, pattern: RegExp, least: number): string[] {
  const names = [...text.matchAll(pattern)].map((hit) => hit[1] as string);
  assert.ok(names.length >= least, `${pattern} found ${names.length}`);
  return names;
}

function among(text: string, begins: string, ends: string): string {
  const from = text.indexOf(begins);
  assert.ok(from >= 0, begins);
  return text.slice(from, text.indexOf(ends, from));
}

test("all that a forecast says", () => {
  const said = among(read("plan", "forecast", "answer.py"), "Says = Literal[", "]");
  // These two stand in the sentence on found work.
  const others = found(said, /"(\w+)"/g, 5).filter(
    (code) => code !== "never_ends" && code !== "found_from_prior",
  );
  for (const code of others) assert.ok(has(`plan.says_${code}`), code);
  assert.ok(has("plan.never_ends") && has("plan.r_prior"));
});

test("all that a plan takes for granted", () => {
  const folder = join(SERVER, "plan", "build");
  const text = readdirSync(folder)
    .filter((name) => name.endsWith(".py"))
    .map((name) => read("plan", "build", name))
    .join("\n");
  const codes = [
    ...found(text, /Note\([\w.]+, "(\w+)"\)/g, 3),
    ...found(text, /notes\.append\("(\w+)"\)/g, 4),
    ...found(text, /\("(looks_\w+)",\)/g, 1),
  ];
  for (const code of codes) assert.ok(has(`plan.note_${code}`), code);
});

test("why a plan is worked out, how far it is, and why none came of it", () => {
  const schema = read("api", "schemas", "plans.py");
  for (const code of found(among(schema, "_WHY = [", "]"), /"(\w+)"/g, 7))
    assert.ok(has(`plan.because_${code}`), code);
  const phases = among(among(schema, "phase = fields.Str(", ")"), '"enum": [', "]");
  for (const phase of found(phases.slice('"enum": '.length), /"(\w+)"/g, 4))
    assert.ok(has(`plan.phase_${phase}`), phase);
  const planning = ["working.py", "runner.py", "child.py"].map((name) =>
    read("work", "planning", name),
  );
  const failed = found(planning.join("\n"), /(?:Failed|_problem)\(\s*"([\w-]+)"/g, 5);
  for (const code of failed) assert.ok(has(`plan.problem_${code.replaceAll("-", "_")}`), code);
});

test("why a step sits where it sits", () => {
  const said = among(read("plan", "why", "reasons.py"), "Code = Literal[", "]");
  for (const code of found(said, /"(\w+)"/g, 8)) assert.ok(has(`plan.why_${code}`), code);
});

test("what cannot be, and what it would take", () => {
  const said = among(read("plan", "infeasible", "answers.py"), "Code = Literal[", "]");
  for (const code of found(said, /"(\w+)"/g, 12)) assert.ok(has(`plan.cannot_${code}`), code);
});

test("why a plan is not given to the crew", () => {
  const publish = read("work", "planning", "publish.py") + read("work", "plans.py");
  for (const code of found(publish, /ConflictError\("([\w-]+)"/g, 3))
    assert.ok(has(`why.${code.replaceAll("-", "_")}`), code);
  assert.ok(publish.includes('"plan-outdated"') && has("why.plan_outdated"));
});
