/**
 * A tin's sheet as a form: what stands in a profile laid flat, with hours where a sheet prints hours, and back. The
 * form itself is the one that sums have, made from the description below.
 */
import { MATERIALS } from "../../clocks/compatibility_table.ts";
import { COAT_STAGES, POT_STAGES, STAGES, type Stage } from "../../clocks/types.ts";
import type { Json } from "../../store/view.ts";
import type { Schema } from "../sums/registry.ts";
import type { ProfileJson } from "./bundled.ts";

type Values = { [name: string]: Json };

const number = (unit: string, label: string, minimum?: number): Schema => ({
  type: ["number", "null"],
  unit,
  description: `sheet.${label}`,
  ...(minimum === undefined ? {} : { minimum }),
});
const needed = (unit: string, label: string, minimum?: number): Schema => ({
  ...number(unit, label, minimum),
  type: "number",
});
const rows = (description: string, properties: Record<string, Schema>): Schema => ({
  type: ["array", "null"],
  description,
  maxItems: 12,
  items: { type: "object", properties, required: Object.keys(properties) },
});

/** Pots are timed in minutes, coats in hours. */
export const unitOf = (stage: Stage): "minutes" | "hours" =>
  POT_STAGES.includes(stage) ? "minutes" : "hours";

const stageRows = (stage: Stage): Schema =>
  rows(`stage.${stage}`, {
    temp_c: needed("degC", "temp_c"),
    [unitOf(stage)]: needed(unitOf(stage) === "hours" ? "h" : "min", "time"),
  });

/** Times in the tin by the temperature of the mix: only the last may be open above. */
function inductionBands(): Schema {
  const fields = {
    from_c: needed("degC", "from_c", -50),
    to_c: number("degC", "to_c", -50),
    minutes: needed("min", "time"),
  };
  const items = { type: "object", properties: fields, required: ["from_c", "minutes"] };
  return { ...rows("sheet.induction_by_temp", fields), items, maxItems: 20 };
}

const described = (fields: Record<string, Schema>): Schema => ({
  type: "object",
  properties: fields,
});

export const TIMES: Schema = described(
  Object.fromEntries([...POT_STAGES, ...COAT_STAGES].map((stage) => [stage, stageRows(stage)])),
);

export const MIXING: Schema = described({
  by_mass_base: number("1", "by_mass_base"),
  by_mass_hardener: number("1", "by_mass_hardener"),
  by_volume_base: number("1", "by_volume_base"),
  by_volume_hardener: number("1", "by_volume_hardener"),
  catalyst_min_pct: number("%", "catalyst_min_pct"),
  catalyst_usual_pct: number("%", "catalyst_usual_pct"),
  catalyst_max_pct: number("%", "catalyst_max_pct"),
  induction_minutes: number("min", "induction_minutes"),
  induction_by_temp: inductionBands(),
  pot_reference_kg: number("kg", "pot_reference_kg"),
});

export const STUFF: Schema = described({
  density_kg_l: number("kg/l", "density_kg_l"),
  solids_by_volume_pct: number("%", "solids_by_volume_pct"),
  film_um: number("um", "film_um"),
  sanding_after_missed_minutes_per_m2: number("min/m2", "sanding_after_missed_minutes_per_m2"),
  compatibility: {
    type: ["string", "null"],
    enum: [...MATERIALS, null],
    description: "sheet.compatibility",
  },
});

export const LIMITS: Schema = described({
  temp_min_c: number("degC", "temp_min_c", -50),
  temp_max_c: number("degC", "temp_max_c", -50),
  rh_max_pct: number("%", "rh_max_pct"),
  dew_margin_min_c: number("K", "dew_margin_min_c"),
});

export const RARE: Schema = described({
  closes_by_hottest_hour: rows("sheet.closes_by_hottest_hour", {
    from_c: needed("degC", "from_c"),
    to_c: needed("degC", "to_c"),
    closes_hours: needed("h", "closes_hours"),
  }),
  ramp_k_h: number("K/h", "ramp_k_h"),
  soaks: rows("sheet.soaks", {
    temp_c: needed("degC", "temp_c"),
    hours: needed("h", "time"),
  }),
});

export const SHEET: Schema = described({
  ...TIMES.properties,
  ...MIXING.properties,
  ...STUFF.properties,
  ...LIMITS.properties,
  ...RARE.properties,
});

const HOUR = 60;
const list = (value: Json | undefined): Values[] =>
  Array.isArray(value) ? (value as Values[]) : [];
const inner = (value: Json | undefined): Values =>
  typeof value === "object" && value !== null && !Array.isArray(value) ? value : {};
/** Hours are shown with six digits: a thousandth of a minute is kept. */
const toHours = (minutes: Json | undefined): number => Number(minutes) / HOUR;
const toMinutes = (hours: Json | undefined): Json =>
  typeof hours === "number" ? Math.round(hours * HOUR * 1000) / 1000 : (hours ?? null);

/** What a profile says, laid flat. */
export function sheetOf(profile: ProfileJson): Values {
  const stages = inner(profile.stages);
  const mix = inner(profile.mix);
  const post_cure = inner(profile.post_cure);
  const flat: Values = {};
  for (const stage of STAGES)
    flat[stage] = list(stages[stage]).map(({ temp_c = null, minutes = null }) =>
      unitOf(stage) === "hours" ? { temp_c, hours: toHours(minutes) } : { temp_c, minutes },
    );
  for (const way of ["by_mass", "by_volume"]) {
    flat[`${way}_base`] = inner(mix[way]).base ?? null;
    flat[`${way}_hardener`] = inner(mix[way]).hardener ?? null;
  }
  for (const part of ["min_pct", "usual_pct", "max_pct"])
    flat[`catalyst_${part}`] = inner(mix.catalyst)[part] ?? null;
  for (const name of ["induction_minutes", "pot_reference_kg"]) flat[name] = mix[name] ?? null;
  flat.induction_by_temp = list(mix.induction_by_temp);
  for (const name of Object.keys(STUFF.properties ?? {})) flat[name] = profile[name] ?? null;
  for (const name of Object.keys(LIMITS.properties ?? {}))
    flat[name] = inner(profile.limits)[name] ?? null;
  flat.closes_by_hottest_hour = list(profile.closes_by_hottest_hour).map(
    ({ from_c = null, to_c = null, closes_minutes = null }) => ({
      ...{ from_c, to_c, closes_hours: toHours(closes_minutes) },
    }),
  );
  flat.ramp_k_h = post_cure.ramp_k_h ?? null;
  flat.soaks = list(post_cure.soaks).map(({ temp_c = null, minutes = null }) => ({
    ...{ temp_c, hours: toHours(minutes) },
  }));
  return flat;
}

/** Two or more numbers that only stand together; null when none of them is given. */
function together(flat: Values, prefix: string, names: readonly string[]): Json {
  const values = names.map((name) => flat[`${prefix}_${name}`] ?? null);
  if (values.every((value) => value === null)) return null;
  return Object.fromEntries(names.map((name, n) => [name, values[n] ?? null]));
}

/** The part of a profile that a sheet fills; what stays as it was comes from `before`. */
export function profileOf(flat: Values, before: ProfileJson): ProfileJson {
  const times = STAGES.map((stage) => [stage, list(flat[stage]).map(pointOf)] as const);
  const soaks = list(flat.soaks).map(pointOf);
  const { compatibility, post_cure: _, ...rest } = before;
  const profile: ProfileJson = {
    ...rest,
    stages: Object.fromEntries(times.filter(([, points]) => points.length > 0)),
    closes_by_hottest_hour: list(flat.closes_by_hottest_hour).map((row) => ({
      ...{ from_c: row.from_c ?? null, to_c: row.to_c ?? null },
      closes_minutes: toMinutes(row.closes_hours),
    })),
    mix: {
      by_mass: together(flat, "by_mass", ["base", "hardener"]),
      by_volume: together(flat, "by_volume", ["base", "hardener"]),
      catalyst: together(flat, "catalyst", ["min_pct", "usual_pct", "max_pct"]),
      induction_minutes: flat.induction_minutes ?? null,
      pot_reference_kg: flat.pot_reference_kg ?? null,
      ...bandsOf(flat),
    },
    limits: Object.fromEntries(
      Object.keys(LIMITS.properties ?? {}).map((name) => [name, flat[name] ?? null]),
    ),
  };
  for (const name of Object.keys(STUFF.properties ?? {}))
    if (name !== "compatibility") profile[name] = flat[name] ?? null;
  if (flat.compatibility) profile.compatibility = flat.compatibility;
  if (soaks.length > 0 || flat.ramp_k_h !== null)
    profile.post_cure = { ramp_k_h: flat.ramp_k_h ?? null, soaks };
  return profile;
}

/** No bands are left out, as in every profile written before there were any. */
function bandsOf(flat: Values): Values {
  const induction_by_temp = list(flat.induction_by_temp);
  return induction_by_temp.length > 0 ? { induction_by_temp } : {};
}

const pointOf = ({ temp_c = null, minutes, hours }: Values): Values => ({
  temp_c,
  minutes: minutes === undefined ? toMinutes(hours) : minutes,
});

/** Where a field of a profile stands in the form: `stages.gel[1].minutes` is `gel[1].minutes`. */
export function placeOf(field: string): string {
  const bare = field
    .replace(/^stages\./, "")
    .replace(/^mix\.catalyst\./, "catalyst_")
    .replace(/^mix\.(by_mass|by_volume)\./, "$1_")
    .replace(/^(mix|limits|post_cure)\./, "")
    .replace("closes_minutes", "closes_hours");
  const stage = STAGES.find((one) => bare.startsWith(`${one}[`));
  const hours = (stage !== undefined && unitOf(stage) === "hours") || bare.startsWith("soaks[");
  return hours ? bare.replace(/\.minutes$/, ".hours") : bare;
}

/** An id for a product that a person named: small letters, digits and lines. */
export function idOf(name: string): string {
  const plain = name.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  return (
    plain
      .replace(/[^a-z0-9]+/g, "_")
      .replace(/^_+|_+$/g, "")
      .slice(0, 64) || "product"
  );
}
