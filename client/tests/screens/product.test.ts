/** A product from its tin's sheet: checked as the server checks it, kept in versions, given out and taken in. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { BUNDLED, bundled, type ProfileJson } from "../../src/screens/product/bundled.ts";
import { checkProfile, SheetError } from "../../src/screens/product/check.ts";
import { draftOf, type ProductDraft, readProduct } from "../../src/screens/product/draft.ts";
import { profileIn, profileOut } from "../../src/screens/product/file.ts";
import { idOf, placeOf, profileOf, sheetOf } from "../../src/screens/product/sheet.ts";
import { createProduct, logCoat, saveProduct } from "../../src/store/acts/index.ts";
import { newId } from "../../src/store/ids.ts";
import { commit } from "../../src/store/local.ts";
import { readProfile } from "../../src/store/profile.ts";
import type { Json } from "../../src/store/view.ts";
import { view } from "../../src/store/view.ts";
import { onStage } from "../support/stage.ts";

onStage();

const FIXTURES = join(process.cwd(), "..", "fixtures");
const read = (...path: string[]) => JSON.parse(readFileSync(join(FIXTURES, ...path), "utf8"));
const fast = (): ProfileJson => structuredClone(bundled("laminating_epoxy_fast") as ProfileJson);

function fieldOf(profile: Json): string | null {
  try {
    checkProfile(profile);
    return null;
  } catch (error) {
    assert.ok(error instanceof SheetError);
    return error.field;
  }
}

interface Case {
  id: string;
  at: (string | number)[];
  value: Json;
  field: string | null;
}

// tests/vectors/test_profile_checks.py asks the server the same.
for (const { id, at, value, field } of read("trade", "profile_checks.json") as Case[])
  test(`the phone names the field that the server names: ${id}`, () => {
    const profile = fast();
    // biome-ignore lint/suspicious/noExplicitAny: a path into plain JSON
    const inner = at.slice(0, -1).reduce<any>((one, name) => one[name], profile);
    inner[at.at(-1) as string] = value;
    assert.equal(fieldOf(profile), field);
  });

test("every bundled class is among the starts, and right", () => {
  const names = readdirSync(join(FIXTURES, "profiles")).map((name) => name.replace(".json", ""));
  assert.deepEqual(BUNDLED.map((one) => String(one.id)).sort(), names.sort());
  for (const one of BUNDLED) assert.equal(fieldOf(one), null, String(one.id));
});

test("a sheet that nobody changed gives back the profile that it was made from", () => {
  for (const one of BUNDLED) {
    const { good, other, profile } = readProduct(draftOf("A", one), one);
    assert.ok(good, String(one.id));
    assert.equal(other, false, String(one.id));
    const again = profileOf(sheetOf(one), one);
    assert.deepEqual(profile.stages, one.stages);
    assert.deepEqual(again.mix, one.mix);
    assert.deepEqual(again.post_cure, one.post_cure);
    assert.deepEqual([profile.typical, profile.version], [true, Number(one.version) + 1]);
  }
});

const drafted = (part: Partial<ProductDraft>, sheet: ProductDraft["sheet"] = {}) => {
  const draft = draftOf("Fast", fast());
  return { ...draft, ...part, sheet: { ...draft.sheet, ...sheet } };
};

test("the figures are typical until one is changed, and then somebody says from which sheet", () => {
  const gel = [
    { temp_c: "15", minutes: "30" },
    { temp_c: "25", minutes: "12,5" },
  ];
  const missing = readProduct(drafted({}, { gel }), fast());
  assert.deepEqual(Object.keys(missing.wrong), ["basis_note"]);
  const { profile, good } = readProduct(drafted({ note: "Sheet of May" }, { gel }), fast());
  assert.ok(good);
  assert.deepEqual([profile.typical, profile.basis_note], [false, "Sheet of May"]);
  assert.deepEqual((profile.stages as Record<string, Json>).gel, [
    { temp_c: 15, minutes: 30 },
    { temp_c: 25, minutes: 12.5 },
  ]);
  assert.doesNotThrow(() => readProfile(profile));
});

test("what is wrong stands at the field of the form, with hours as hours", () => {
  const sandable = [
    { temp_c: "10", hours: "20" },
    { temp_c: "20", hours: "30" },
  ];
  const { wrong } = readProduct(drafted({ note: "x" }, { sandable }), fast());
  assert.deepEqual(wrong, { "sandable[1].hours": "Warmer cannot take longer." });
  const half = readProduct(drafted({ note: "x" }, { by_volume_hardener: "" }), fast());
  assert.deepEqual(Object.keys(half.wrong), ["by_volume_hardener"]);
  assert.equal(placeOf("mix.catalyst.usual_pct"), "catalyst_usual_pct");
  assert.equal(
    placeOf("closes_by_hottest_hour[1].closes_minutes"),
    "closes_by_hottest_hour[1].closes_hours",
  );
  assert.equal(placeOf("post_cure.soaks[0].minutes"), "soaks[0].hours");
  assert.equal(placeOf("limits.temp_max_c"), "temp_max_c");
});

// NAVFAC MO-124: 2 h at 50 to 60 degF, 1 to 1.5 h at 60 to 70 degF, 0.5 to 1 h above, in degC.
test("the time in the tin is given in bands, of which the last may be open, as the server takes them", () => {
  const band = (from_c: string, to_c: string, minutes: string) => ({ from_c, to_c, minutes });
  const induction_by_temp = [
    band("10", "15,6", "120"),
    band("15,6", "21,1", "90"),
    band("21,1", "", "60"),
  ];
  const read = (rows: object[]) =>
    readProduct(drafted({ note: "x" }, { induction_by_temp: rows as never }), fast());
  const { profile, good } = read(induction_by_temp);
  assert.ok(good);
  assert.deepEqual((profile.mix as Record<string, Json>).induction_by_temp, [
    { from_c: 10, to_c: 15.6, minutes: 120 },
    { from_c: 15.6, to_c: 21.1, minutes: 90 },
    { from_c: 21.1, to_c: null, minutes: 60 },
  ]);
  assert.doesNotThrow(() => readProfile(profile));
  const [low, mid, high] = induction_by_temp;
  const wrongAt = (...rows: (object | undefined)[]) => Object.keys(read(rows as object[]).wrong);
  assert.deepEqual(wrongAt(low, { ...mid, minutes: "150" }), ["induction_by_temp[1].minutes"]);
  assert.deepEqual(wrongAt(low, { ...mid, from_c: "12" }), ["induction_by_temp[1].from_c"]);
  assert.deepEqual(wrongAt({ ...low, to_c: "9" }), ["induction_by_temp[0].to_c"]);
  assert.deepEqual(wrongAt(high, mid), ["induction_by_temp[0].to_c"]);
  assert.deepEqual(wrongAt({ ...low, minutes: "" }), ["induction_by_temp[0].minutes"]);
  const none = readProduct(drafted({ note: "x" }, { induction_by_temp: [] }), profile);
  assert.equal((none.profile.mix as Record<string, Json>).induction_by_temp, undefined);
  assert.ok(none.other);
});

test("another name keeps the figures typical, and stands in the profile", () => {
  const { profile, good } = readProduct(drafted({ name: "Résine de Léon" }), fast(), true);
  assert.ok(good);
  assert.deepEqual([profile.name, profile.typical], [{ en: "Résine de Léon" }, true]);
  assert.deepEqual([profile.id, profile.version], ["resine_de_leon", 1]);
  assert.equal(idOf("!!"), "product");
});

test("a coat keeps the numbers that it was made with when the product is saved anew", async () => {
  const product_id = await createProduct({ name: "Fast", profile: fast() });
  const [job_id, step_id] = [newId(), newId()];
  await commit("test", [
    { do: "create", kind: "job", id: job_id, fields: { title: "J" }, sets: {} },
    { do: "create", kind: "step", id: step_id, fields: { job_id, kind: "coat" }, sets: {} },
  ]);
  const at = "2026-03-02T08:00:00Z";
  await logCoat(step_id, { product_id, start_at: at, end_at: at });
  const { profile } = readProduct(drafted({ note: "New" }, { film_um: "120" }), fast());
  await saveProduct(product_id, { name: "Fast", profile });
  const saved = view.peek().item("product", product_id)?.fields.profile as ProfileJson;
  const kept = view.peek().records("application")[0]?.body.profile as ProfileJson;
  assert.deepEqual([saved.version, saved.film_um], [2, 120]);
  assert.deepEqual([kept.version, kept.film_um], [1, null]);
});

test("a product given out as a file is taken in again, whole", () => {
  assert.deepEqual(profileIn(profileOut(fast())), fast());
  assert.throws(() => profileIn("not a file"), { field: "file" });
  assert.throws(() => profileIn('{"id": "a"}'), { field: "version" });
});
