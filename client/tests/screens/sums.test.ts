/** The forms that sums describe: what they start with, what they send, and what they say is wrong. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { type Drafts, draftsOf, readDrafts } from "../../src/screens/sums/draft.ts";
import { type Described, type Schema, SUMS, sumNamed } from "../../src/screens/sums/registry.ts";
import { startOf } from "../../src/screens/sums/start.ts";
import { figures, measured } from "../../src/screens/sums/units.ts";
import { keptOf, workedOut } from "../../src/screens/sums/work.ts";
import { correct, keepSum, logReading, setFields, voidRecord } from "../../src/store/acts/index.ts";
import { newId } from "../../src/store/ids.ts";
import { commit } from "../../src/store/local.ts";
import { type Json, view } from "../../src/store/view.ts";
import { onStage } from "../support/stage.ts";

onStage();

const sum = (name: string): Described => {
  const found = sumNamed(name);
  if (!found) throw new Error(name);
  return found;
};
const worked = (name: string, drafts: Drafts) => {
  const one = sum(name);
  return workedOut(one, { ...draftsOf(one.takes, {}), ...drafts });
};

test("a form of empty fields asks for those that the sum needs, and for no other", () => {
  for (const { name, takes } of SUMS) {
    const { wrong } = readDrafts(takes, draftsOf(takes, {}));
    const asked = Object.keys(wrong).map((path) => path.replace(/[.[].*/, ""));
    const needed = (takes.required ?? []).filter((field) => {
      const { type, minItems } = takes.properties?.[field] ?? {};
      return type !== "boolean" && !(type === "array" && !minItems);
    });
    assert.deepEqual([...new Set(asked)].sort(), [...needed].sort(), name);
  }
});

test("what stands in a form by default is what the registry means by leaving it out", () => {
  for (const { name, takes } of SUMS) {
    const { takes: read } = readDrafts(takes, draftsOf(takes, {}));
    for (const [field, schema] of Object.entries(takes.properties ?? {}) as [string, Schema][])
      if (schema.default !== undefined)
        assert.deepEqual(read[field], schema.default, `${name}.${field}`);
  }
});

// Glass mat of 300 g on a square metre: 0.3 kg by the meaning of gram, and back.
test("grams are typed where a sum takes kilograms", () => {
  const { takes, gives } = worked("laminate_ply", { kind: "mat", fibre_kg_m2: "300" });
  assert.equal(takes.fibre_kg_m2, 0.3);
  assert.ok(Number(gives?.thickness_mm) > 0.4);
});

test("a number out of its limits is named at its field, in the unit that is shown", () => {
  const { wrong, gives } = worked("laminate_ply", { kind: "mat", fibre_kg_m2: "0,5" });
  assert.deepEqual([gives, wrong], [null, { fibre_kg_m2: "At least 1." }]);
  assert.ok("air_c" in worked("dew_point", { air_c: "a", rh_pct: "50" }).wrong);
  assert.deepEqual(worked("dew_point", { air_c: "20", rh_pct: "0" }).wrong, {
    rh_pct: "More than 0.",
  });
});

test("a row of a list is named by its place, and empty rows are none", () => {
  const plies = [
    { kind: "mat", fibre_kg_m2: "300", glass_pct: "" },
    { kind: "", fibre_kg_m2: "300", glass_pct: "" },
  ];
  const { wrong } = worked("laminate_schedule", { plies, area_m2: "2" });
  assert.deepEqual(Object.keys(wrong), ["plies[1].kind"]);
  const takes = sum("area_from_girths").takes;
  const read = readDrafts(takes, {
    ...draftsOf(takes, {}),
    girths_m: ["1", "2", ""],
    openings_m2: [""],
  });
  assert.deepEqual([read.takes.girths_m, read.takes.openings_m2], [[1, 2], []]);
});

test("what the sum itself refuses is named at its field", () => {
  const { wrong, gives } = worked("fillet_volume", { radius_mm: "10", length_m: "x" });
  assert.equal(gives, null);
  assert.deepEqual(Object.keys(wrong), ["length_m"]);
});

// Magnus formula with the constants of WMO-No. 8: 20 degC at 50 % is a dew point of 9.3 degC.
test("a sum is worked out from what is typed, with a comma or a point", () => {
  for (const typed of ["20.0", "20,0"]) {
    const { gives } = worked("dew_point", { air_c: typed, rh_pct: "50" });
    assert.ok(Math.abs(Number(gives?.dew_point_c) - 9.3) < 0.1);
  }
});

async function yard() {
  const [zone_id, job_id, step_id, product_id] = [newId(), newId(), newId(), newId()];
  const profile = {
    product_class: "paint",
    stages: {
      pot_life: [
        { temp_c: 10, minutes: 60 },
        { temp_c: 30, minutes: 20 },
      ],
    },
    mix: { by_mass: { base: 100, hardener: 20 }, by_volume: { base: 5, hardener: 1 } },
    solids_by_volume_pct: 55,
    film_um: 60,
    limits: { dew_margin_min_c: 4 },
    cautions: [],
  };
  const make = (kind: string, id: string, fields: object) =>
    ({ do: "create", kind, id, fields, sets: {} }) as never;
  await commit("test", [
    make("zone", zone_id, { name: "Deck", area_m2: 12.5 }),
    make("job", job_id, { title: "Paint", zone_id }),
    make("product", product_id, { name: "Paint", profile }),
    make("step", step_id, { job_id, kind: "coat", product_id }),
  ]);
  return { step_id, job_id, zone_id, product_id };
}

test("a sum starts from the area of the step's zone and the numbers of its product", async () => {
  const { step_id, product_id } = await yard();
  const start = (name: string) => startOf(sum(name), step_id, product_id);
  assert.deepEqual(start("paint_needed"), {
    area_m2: 12.5,
    dry_film_um: 60,
    solids_by_volume_pct: 55,
  });
  assert.deepEqual(start("net_area").areas_m2, [12.5]);
  assert.equal(start("mix_by_mass").ratio_base, 100);
  assert.equal(start("mix_by_volume").ratio_base, 5);
  assert.equal(start("margin_at_touch_dry").rule_k, 4);
  const pot_life = Number(start("next_pot").pot_life_minutes); // 20 degC lies between the sheet's two
  assert.ok(pot_life > 20 && pot_life < 60);
  assert.deepEqual(startOf(sum("paint_needed"), "", ""), {});
});

const MINUTE_MS = 60_000;
const ago = (minutes: number) => new Date(Date.now() - minutes * MINUTE_MS).toISOString();
const make = (kind: string, id: string, fields: object) =>
  ({ do: "create", kind, id, fields, sets: {} }) as never;

// NAVFAC MO-124: 1 to 1.5 h in the tin between 60 and 70 degF (15.6 and 21.1 degC); the careful end of it.
test("a pot's sums start with the bands of its tin and the temperature that was measured last", async () => {
  const product_id = newId();
  const bands = [
    { from_c: 10, to_c: 15.6, minutes: 120 },
    { from_c: 15.6, to_c: 21.1, minutes: 90 },
  ];
  const profile = {
    ...{ product_class: "paint", mix: { by_mass: { base: 1, hardener: 1 } } },
    stages: { pot_life: [{ temp_c: 20, minutes: 360 }] },
  };
  Object.assign(profile.mix, { by_volume: { base: 1, hardener: 1 }, induction_by_temp: bands });
  await commit("test", [make("product", product_id, { name: "P", profile })]);
  const names = ["mix_by_mass", "mix_by_volume", "largest_pot", "next_pot"];
  const start = (name: string) => startOf(sum(name), "", product_id);
  for (const name of names)
    assert.deepEqual([start(name).induction_by_temp, start(name).temp_c], [bands, undefined], name);
  await logReading({ taken_at: ago(40), air_c: 17, surface_c: 14, rh_pct: 60 });
  await logReading({ taken_at: ago(10), surface_c: 13 }); // says nothing of the air in which the pot stands
  await logReading({ taken_at: ago(200), air_c: 30 });
  for (const name of names) assert.equal(start(name).temp_c, 17, name);
  assert.equal(start("surface_margin").surface_c, 13);
  assert.equal(start("humidity_from_wet_bulb").dry_bulb_c, 17);
  const { takes } = sum("mix_by_mass");
  const drafts = { ...draftsOf(takes, start("mix_by_mass")), base_kg: "1" };
  assert.equal(workedOut(sum("mix_by_mass"), drafts).gives?.use_after_minutes, 90);
});

test("the sums about what lies below start from the ground of the zone", async () => {
  const { step_id, zone_id, product_id } = await yard();
  await setFields("zone", zone_id, { ground: "gelcoat" });
  const start = (name: string) => startOf(sum(name), step_id, product_id);
  assert.deepEqual([start("may_go_over").under, start("may_go_over").state], ["gelcoat", "glossy"]);
  assert.deepEqual([start("job_order").under, start("job_order").state], ["gelcoat", "glossy"]);
  assert.equal(start("laminate_schedule").on_gelcoat, true);
  const asked = start("may_coat_now");
  assert.deepEqual(asked.limits, { dew_margin_min_c: 4 });
  assert.deepEqual([asked.area_m2, asked.kind], [12.5, "coat"]);
  assert.equal((asked.below as Record<string, Json>).material, "gelcoat");
});

test("a kept sum lies with its step, whole", async () => {
  const { step_id, job_id, zone_id } = await yard();
  const { takes, gives } = worked("dew_point", { air_c: "20", rh_pct: "50" });
  await keepSum({ name: "dew_point", takes, gives: gives ?? {}, step_id, job_id, zone_id });
  const [kept] = view.peek().records("sum");
  assert.deepEqual(kept?.body.takes, { air_c: 20, rh_pct: 50 });
  assert.equal(kept?.body.step_id, step_id);
  await assert.rejects(keepSum({ name: "", takes: {}, gives: {} }), {
    field: "actions[0].body.name",
  });
});

interface Vector {
  fn: string;
  inputs: Record<string, Json>;
  expected: { error?: object };
}

/** The shared vectors, with what each sum is given there. */
const VECTORS = readdirSync(join("..", "fixtures", "vectors", "trade")).flatMap(
  (name) =>
    JSON.parse(readFileSync(join("..", "fixtures", "vectors", "trade", name), "utf8")) as Vector[],
);

for (const { name, takes, gives: answer } of SUMS)
  test(`the form of ${name} gives an answer for an input of the shared vectors`, () => {
    const vector = VECTORS.find((one) => one.fn === name && one.expected.error === undefined);
    assert.ok(vector, "no vector");
    const { gives, wrong } = workedOut(sum(name), draftsOf(takes, vector.inputs));
    assert.deepEqual(wrong, {});
    const fields = Object.keys(answer.properties ?? {});
    assert.ok(fields.length > 0);
    assert.deepEqual(Object.keys(gives ?? {}).sort(), fields.sort());
    assert.ok(Object.values(gives ?? {}).some((value) => value !== null));
  });

test("a kept sum is corrected and taken back as other records are, and the first stays", async () => {
  const { step_id, job_id, zone_id } = await yard();
  const { takes, gives } = worked("dew_point", { air_c: "20", rh_pct: "50" });
  const place = { step_id, job_id, zone_id };
  const id = await keepSum({ name: "dew_point", takes, gives: gives ?? {}, ...place });
  const again = worked("dew_point", { air_c: "20", rh_pct: "60" });
  const next = await correct("sum", id, { takes: again.takes, gives: again.gives ?? {} });
  const [now] = view.peek().records("sum");
  assert.deepEqual([now?.id, now?.body.takes], [next, { air_c: 20, rh_pct: 60 }]);
  assert.deepEqual([now?.body.name, now?.body.step_id], ["dew_point", step_id]);
  assert.deepEqual(view.peek().record("sum", id)?.body.takes, takes);
  await voidRecord("sum", next);
  assert.deepEqual(view.peek().records("sum"), []);
});

test("what nobody typed over since a sum was kept counts to its last digit", () => {
  const row = { body: { takes: { air_c: 20.123456789, rh_pct: 50 } } } as never;
  const one = sum("dew_point");
  const drafts = draftsOf(one.takes, { air_c: 20.123456789, rh_pct: 60 });
  const { takes } = workedOut(one, drafts, undefined, keptOf(row, new Set(["rh_pct"])));
  assert.deepEqual(takes, { air_c: 20.123456789, rh_pct: 60 });
});

test("a figure is said with three digits that count, and small masses in grams", () => {
  assert.deepEqual(measured(0.0456, "kg"), { figure: "45.6", word: "g" });
  assert.deepEqual(measured(1234.5, "m2"), { figure: "1,235", word: "m²" });
  assert.deepEqual(measured(-0.25, "degC"), { figure: "-0.25", word: "°C" });
  assert.equal(figures(12.345), "12.3");
});
