/** The profile as the clocks read it from a record: bands of standing time are kept, and refused where they are wrong. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { TradeError } from "../../src/clocks/errors.ts";
import { inductionMinutes } from "../../src/clocks/induction.ts";
import type { Json } from "../../src/merge/state.ts";
import { readProfile } from "../../src/store/profile.ts";

const FIXTURES = join(process.cwd(), "..", "fixtures");
const read = (...path: string[]) => JSON.parse(readFileSync(join(FIXTURES, ...path), "utf8"));
const primer = () => read("profiles", "epoxy_polyamide_primer.json");

interface Case {
  id: string;
  at: string[];
  value: Json;
  field: string | null;
}

test("the bands of a sheet are read, and a profile without them has none", () => {
  const { mix } = readProfile(primer());
  assert.deepEqual(mix.induction_by_temp, primer().mix.induction_by_temp);
  assert.equal(inductionMinutes(mix, 12), 120);
  assert.deepEqual(readProfile(read("profiles", "sealant.json")).mix.induction_by_temp, []);
});

const BANDS: Case[] = read("trade", "profile_checks.json").filter(
  ({ at, field }: Case) => at[1] === "induction_by_temp" && !field?.endsWith(".wind"),
);

test("bands are refused at the field that the server names", () => {
  assert.ok(BANDS.length > 8);
  for (const { id, value, field } of BANDS) {
    const profile = primer();
    profile.mix.induction_by_temp = value;
    if (field === null) assert.doesNotThrow(() => readProfile(profile), id);
    else
      assert.throws(
        () => readProfile(profile),
        (error) => error instanceof TradeError && error.field === field,
        id,
      );
  }
});
