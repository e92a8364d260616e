/** What the screens say, in every language: complete, and with the words for all that the data can hold. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { STAGES } from "../src/clocks/types.ts";
import { ALARM_KINDS } from "../src/clocks/warning_kinds.ts";
import { ITEM_KINDS, RECORD_KINDS } from "../src/merge/catalogue.ts";
import { dayOf, instantOf, readNumber, timeOf } from "../src/words/dates.ts";

type Entry = string | Record<string, string>;
type Words = Record<string, Entry>;

const folder = join(process.cwd(), "src", "words");
const languages = readdirSync(folder)
  .filter((name) => name.endsWith(".json"))
  .map((name) => name.replace(".json", ""));
const wordsOf = (tag: string): Words =>
  JSON.parse(readFileSync(join(folder, `${tag}.json`), "utf8")) as Words;
const english = wordsOf("en");

const forms = (entry: Entry | undefined): string[] =>
  typeof entry === "string" ? [entry] : Object.values(entry ?? {});
const holes = (text: string) => (text.match(/\{\w+\}/g) ?? []).sort();

/** Keys that are put together from a prefix and a name in the data. */
const needed = (prefix: string, names: Iterable<string>) =>
  [...names].map((name) => `${prefix}.${name}`);

test("english and spanish are there", () => {
  assert.ok(languages.includes("en") && languages.includes("es"));
});

for (const tag of languages) {
  const words = wordsOf(tag);

  test(`${tag} has exactly the keys of english`, () => {
    assert.deepEqual(Object.keys(words).sort(), Object.keys(english).sort());
  });

  test(`${tag} fills the same holes as english`, () => {
    for (const [key, entry] of Object.entries(english)) {
      const wanted = new Set(forms(entry).flatMap(holes));
      for (const text of forms(words[key]))
        for (const hole of holes(text)) assert.ok(wanted.has(hole), `${key} has ${hole}`);
      const filled = new Set(forms(words[key]).flatMap(holes));
      assert.deepEqual([...filled].sort(), [...wanted].sort(), key);
    }
  });

  test(`${tag} leaves no text empty and gives each plural its general form`, () => {
    for (const [key, entry] of Object.entries(words)) {
      assert.ok(
        forms(entry).every((text) => text.trim() !== ""),
        key,
      );
      assert.ok(typeof entry === "string" || "other" in entry, key);
      assert.equal(typeof entry, typeof english[key], key);
    }
  });
}

test("every kind, state, stage and warning of the data has a word", () => {
  const step = ITEM_KINDS.get("step")?.fields;
  const keys = [
    ...needed("kind", step?.kind?.of ?? []),
    ...needed("hold", step?.held?.of ?? []),
    ...needed("role", ITEM_KINDS.get("member")?.fields.role?.of ?? []),
    ...needed(
      "record",
      (RECORD_KINDS.get("mark")?.body.mark?.of ?? []).map((mark) => `mark_${mark}`),
    ),
    ...needed("stage", STAGES),
    ...needed("alarm_what", ALARM_KINDS),
    ...needed("alarm_else", ALARM_KINDS),
    ...needed(
      "ring",
      ALARM_KINDS.map((kind) => `kind_${kind}`),
    ),
    ...needed(
      "missed",
      ALARM_KINDS.map((kind) => `now_${kind}`),
    ),
    ...needed("thing", ITEM_KINDS.keys()),
  ];
  assert.ok(keys.length > 50);
  for (const key of keys) assert.ok(key in english, key);
});

test("every field that two people may differ about has a word", () => {
  for (const [kind, { fields }] of ITEM_KINDS)
    for (const name of Object.keys(fields))
      assert.ok(`field.${name}` in english, `${kind}.${name}`);
  for (const [kind, { body }] of RECORD_KINDS)
    for (const name of Object.keys(body)) assert.ok(`field.${name}` in english, `${kind}.${name}`);
});

test("every act of a person has a word", () => {
  const acts = join(process.cwd(), "src", "store", "acts");
  const names = readdirSync(acts)
    .map((name) => readFileSync(join(acts, name), "utf8"))
    .flatMap((text) => [...text.matchAll(/(?:commit|log)\(\s*"(\w+)"/g)].map((match) => match[1]));
  assert.ok(names.length > 15);
  for (const name of names) assert.ok(`act.${name}` in english, `act.${name}`);
});

test("every caution that a bundled profile names has its text", () => {
  const profiles = join(process.cwd(), "..", "fixtures", "profiles");
  const named = readdirSync(profiles)
    .filter((name) => name.endsWith(".json"))
    .map((name) => JSON.parse(readFileSync(join(profiles, name), "utf8")) as { cautions: string[] })
    .flatMap((profile) => profile.cautions);
  assert.ok(named.length > 10);
  for (const name of named) assert.ok(`caution.${name}` in english, name);
});

test("the cautions are those of the server, word for word", () => {
  const source = readFileSync(
    join(process.cwd(), "..", "server", "tackwatch", "trade", "cautions.py"),
    "utf8",
  );
  const plain = source.replace(/"\s*\n\s*"/g, "");
  for (const tag of ["en", "es"])
    for (const [key, text] of Object.entries(wordsOf(tag)))
      if (key.startsWith("caution.") && !/\.(label|typical)$/.test(key))
        assert.ok(plain.includes(String(text)), `${tag} ${key}`);
});

test("numbers are read with a comma and with a point", () => {
  assert.equal(readNumber("12,5"), 12.5);
  assert.equal(readNumber(" 12.5 "), 12.5);
  assert.equal(readNumber("-3"), -3);
  assert.equal(readNumber(",5"), 0.5);
  for (const none of ["", "12a", "1.2.3", "1,234.5", "--1", "."])
    assert.ok(Number.isNaN(readNumber(none)), none);
});

// Lisbon puts its clocks ahead on 29 March 2026 at 01:00 UTC (IANA time zone database).
test("a wall time is found again on both sides of a clock change, by the IANA database", () => {
  const zone = "Europe/Lisbon";
  assert.equal(instantOf("2026-03-28", "14:20", zone), Date.parse("2026-03-28T14:20:00Z"));
  assert.equal(instantOf("2026-03-29", "14:20", zone), Date.parse("2026-03-29T13:20:00Z"));
  for (const at of ["2026-03-29T00:30:00Z", "2026-10-25T03:30:00Z", "2026-07-01T22:45:00Z"]) {
    const ms = Date.parse(at);
    assert.equal(instantOf(dayOf(ms, zone), timeOf(ms, zone), zone), ms);
  }
});

test("a wall time that the clocks skip moves ahead, by the IANA database", () => {
  const found = instantOf("2026-03-29", "01:30", "Europe/Lisbon");
  assert.equal(found, Date.parse("2026-03-29T01:30:00Z"));
});
