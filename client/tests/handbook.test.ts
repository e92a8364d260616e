/** The handbook: every language has the words for all that the registry of sums says, and for what its answers mean. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { ROWS } from "../src/clocks/compatibility_table.ts";
import { STEP_KINDS } from "../src/parts/kinds.ts";
import { type Schema, SUMS } from "../src/screens/sums/registry.ts";

type Entry = string | Record<string, string>;

const folder = join(process.cwd(), "src", "handbook");
const textsOf = (tag: string) =>
  JSON.parse(readFileSync(join(folder, `${tag}.json`), "utf8")) as Record<string, Entry>;
const languages = readdirSync(folder)
  .filter((name) => name.endsWith(".json"))
  .map((name) => name.replace(".json", ""));
const english = textsOf("en");

/** The fields that a form or an answer shows, those of rows and inner records as well. */
function* fieldsOf(schema: Schema): Generator<[string, Schema]> {
  for (const [name, field] of Object.entries(schema.properties ?? {})) {
    yield [name, field];
    yield* fieldsOf(field);
    if (field.items) yield* fieldsOf(field.items);
  }
}

const fields = SUMS.flatMap((sum) => [...fieldsOf(sum.takes), ...fieldsOf(sum.gives)]);
/** Seen through other words, or not at all. */
const UNSHOWN = new Set(["reasons", "notes", "basis", "language"]);
const said = [
  ...SUMS.map((sum) => sum.about),
  ...fields.filter(([name]) => !UNSHOWN.has(name)).map(([, field]) => field.description ?? ""),
];
const isKind = (name: string, value: string) => name === "kind" && STEP_KINDS.includes(value);
const words = (text: string) => (text.match(/\{\w+\}/g) ?? []).sort();

test("english and spanish have a handbook", () => {
  assert.ok(languages.includes("en") && languages.includes("es"));
});

test("what a form shows is described", () => {
  assert.ok(said.length > 200);
  assert.ok(said.every((text) => text.trim() !== ""));
});

for (const tag of languages.filter((one) => one !== "en")) {
  const texts = textsOf(tag);

  test(`${tag} says everything that the registry says`, () => {
    const lacking = [...new Set(said)].filter((text) => !(text in texts));
    assert.deepEqual(lacking, []);
  });

  test(`${tag} says all that english says, with the same holes`, () => {
    for (const [key, entry] of Object.entries(english)) {
      const other = texts[key];
      assert.ok(other, key);
      if (typeof entry === "string") assert.deepEqual(words(String(other)), words(entry), key);
    }
  });

  test(`${tag} has a title for each sum and a word for each choice`, () => {
    for (const { name } of SUMS) assert.ok(`title.${name}` in texts, name);
    for (const [name, field] of fields)
      for (const value of field.enum ?? [])
        if (name !== "basis" && value !== null)
          assert.ok(
            `choice.${name}.${value}` in texts || `choice.${value}` in texts || isKind(name, value),
            `choice.${name}.${value}`,
          );
  });
}

test("each family has a name, and each thing that an answer may rest on", () => {
  for (const { family } of SUMS) assert.ok(`family.${family}` in english, family);
  for (const [name, field] of fields)
    if (name === "basis")
      for (const value of field.enum ?? []) assert.ok(`basis.${value}` in english, String(value));
});

test("each reason that a description names has its sentence", () => {
  const codes = fields
    .filter(([name, field]) => name === "reasons" && field.items?.type === "string")
    .flatMap(([, field]) =>
      (field.description ?? "")
        .replace(/^Codes: /, "")
        .replace(/\([^)]*\)/g, "")
        .split(","),
    )
    .map((code) => code.trim());
  assert.ok(codes.length > 15);
  assert.ok(ROWS.length > 40);
  codes.push(...ROWS.map((row) => row.id), "thin_by_sheet", "acetone", "foreign_thinner");
  for (const code of codes) assert.ok(`reason.${code}` in english, code);
});

test("each rule of a coat's readiness has a word, and each of its reasons a sentence", () => {
  const clocks = join(process.cwd(), "src", "clocks");
  const source = ["readiness.ts", "readiness_air.ts", "readiness_laminating.ts"]
    .map((name) => readFileSync(join(clocks, name), "utf8"))
    .join("\n");
  const direct = [...source.matchAll(/ruleOf\(\s*"\w+",[^"]*"\w+",\s*"(\w+)"/g)].map(
    (one) => one[1],
  );
  const chosen = [...source.matchAll(/(?:code = |near \? |cold \? )[^;]*?;/g)].flatMap(([text]) =>
    [...text.matchAll(/[?:] "(\w+)"/g)].map((one) => one[1]),
  );
  const codes = new Set([...direct, ...chosen]);
  assert.ok(codes.size > 18, [...codes].join());
  const outcomes = new Set(["ok", "wait", "no", "unknown", "not_checked"]);
  for (const code of codes)
    if (!outcomes.has(code ?? "")) assert.ok(`reason.${code}` in english, code);
  const rules = source.match(/export type Rule =([^;]*);/)?.[1]?.match(/\w+/g) ?? [];
  assert.ok(rules.length > 8);
  for (const rule of rules) assert.ok(`choice.rule.${rule}` in english, rule);
});
