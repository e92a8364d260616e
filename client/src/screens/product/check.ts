/**
 * A profile checked as the server checks it: the twin of `trade.profiles`, field by field, so that nothing is saved here
 * that could not be read there. What is wrong is named by its field and by a word that the handbook has a sentence for.
 */
import { MATERIALS } from "../../clocks/compatibility_table.ts";
import { TradeError } from "../../clocks/errors.ts";
import { STAGES } from "../../clocks/types.ts";
import { isObject } from "../../merge/refused.ts";
import type { Json } from "../../store/view.ts";
import { CAUTIONS } from "../sums/registry.ts";

type Values = { [name: string]: Json };
type Words = Record<string, number>;

/** What is wrong with a profile: where, and which sentence says so. */
export class SheetError extends TradeError {
  constructor(
    field: string,
    readonly code: string,
    readonly words: Words = {},
  ) {
    super(field, code);
    this.name = "SheetError";
  }
}

const ID = /^[a-z0-9][a-z0-9_.-]{0,63}$/;
const LANGUAGE = /^[a-z]{2}$/;
const TEMP_C = [-50, 150] as const;
const SOAK_C = [-50, 250] as const;
const SOAKS_MAX_N = 20;
const BANDS_MAX_N = 20;
const MINUTES_MAX = 10 * 366 * 1440;
const PERCENTS = [0.01, 20] as const;

const FIELDS = [
  ...["id", "version", "product_class", "name", "typical", "basis_note", "stages"],
  ...["closes_by_hottest_hour", "mix", "density_kg_l", "solids_by_volume_pct", "film_um", "limits"],
  ...["sanding_after_missed_minutes_per_m2", "cautions", "compatibility", "post_cure"],
];

/** Check a whole profile; throws SheetError naming the first field that cannot be used. */
export function checkProfile(data: Json | undefined): void {
  const profile = record(data, "", FIELDS);
  matching(profile.id, "id");
  whole(profile.version, "version");
  matching(profile.product_class, "product_class");
  names(profile.name);
  if (typeof profile.typical !== "boolean") throw new SheetError("typical", "missing");
  text(profile.basis_note, "basis_note");
  stages(profile.stages);
  rows(profile.closes_by_hottest_hour ?? []);
  mix(profile.mix ?? {});
  optional(profile, "density_kg_l", [0.05, 20]);
  optional(profile, "solids_by_volume_pct", [1, 100]);
  optional(profile, "film_um", [1, 100_000]);
  limits(profile.limits ?? {});
  optional(profile, "sanding_after_missed_minutes_per_m2", [0, 1440]);
  cautions(profile.cautions ?? []);
  material(profile.compatibility);
  postCure(profile.post_cure);
}

function stages(data: Json | undefined): void {
  const given = record(data, "stages", STAGES);
  if (Object.keys(given).length === 0) throw new SheetError("stages", "no_stage");
  for (const stage of STAGES) if (stage in given) points(given[stage], `stages.${stage}`);
  for (const [opens, closes] of [
    ["recoat_opens", "recoat_closes"],
    ["immerse_opens", "immerse_closes"],
  ] as const)
    window(given[opens], given[closes], `stages.${closes}`);
}

function points(data: Json | undefined, field: string): void {
  const items = list(data, field);
  if (items.length === 0) throw new SheetError(field, "missing");
  const read = items.map((one, n) => {
    const point = record(one, `${field}[${n}]`, ["temp_c", "minutes"]);
    return {
      temp_c: number(point.temp_c, `${field}[${n}].temp_c`, TEMP_C),
      minutes: minutes(point.minutes, `${field}[${n}].minutes`),
    };
  });
  inPairs(read, (low, high, n) => {
    if (high.temp_c <= low.temp_c) throw new SheetError(`${field}[${n}].temp_c`, "temp_rises");
    if (high.minutes > low.minutes) throw new SheetError(`${field}[${n}].minutes`, "warm_is_fast");
  });
}

/** A closing does not come before its opening at a temperature that both name. */
function window(opens: Json | undefined, closes: Json | undefined, field: string): void {
  const opening = new Map(
    ((opens ?? []) as Values[]).map((point) => [point.temp_c, Number(point.minutes)]),
  );
  for (const [n, point] of ((closes ?? []) as Values[]).entries())
    if (Number(point.minutes) < (opening.get(point.temp_c ?? null) ?? 0))
      throw new SheetError(`${field}[${n}].minutes`, "closes_first");
}

function rows(data: Json): void {
  const field = "closes_by_hottest_hour";
  const read = list(data, field).map((one, n) => {
    const where = `${field}[${n}]`;
    const row = record(one, where, ["from_c", "to_c", "closes_minutes"]);
    const from_c = number(row.from_c, `${where}.from_c`, TEMP_C);
    const to_c = number(row.to_c, `${where}.to_c`, TEMP_C);
    const closes = minutes(row.closes_minutes, `${where}.closes_minutes`);
    if (to_c <= from_c) throw new SheetError(`${where}.to_c`, "above_from");
    return { from_c, to_c, closes };
  });
  inPairs(read, (low, high, n) => {
    if (high.from_c < low.to_c) throw new SheetError(`${field}[${n}].from_c`, "rows_follow");
    if (high.closes > low.closes)
      throw new SheetError(`${field}[${n}].closes_minutes`, "hot_closes_early");
  });
}

function mix(data: Json): void {
  const given = record(data, "mix", [
    ...["by_mass", "by_volume", "catalyst", "induction_minutes", "pot_reference_kg"],
    "induction_by_temp",
  ]);
  ratio(given.by_mass, "mix.by_mass");
  ratio(given.by_volume, "mix.by_volume");
  catalyst(given.catalyst);
  optional(given, "induction_minutes", [0, 1440], "mix.");
  optional(given, "pot_reference_kg", [0.001, 1000], "mix.");
  bands(given.induction_by_temp ?? []);
}

function bands(data: Json): void {
  const field = "mix.induction_by_temp";
  const items = list(data, field);
  if (items.length > BANDS_MAX_N) throw new SheetError(field, "missing");
  const read = items.map((one, n) => {
    const where = `${field}[${n}]`;
    const band = record(one, where, ["from_c", "to_c", "minutes"]);
    const from_c = number(band.from_c, `${where}.from_c`, TEMP_C);
    const to_c = optional(band, "to_c", TEMP_C, `${where}.`);
    const held = number(band.minutes, `${where}.minutes`, [0, 1440]);
    return { from_c, to_c, held };
  });
  for (const [n, { from_c, to_c, held }] of read.entries()) {
    const where = `${field}[${n}]`;
    const before = read[n - 1];
    if (to_c !== null && to_c <= from_c) throw new SheetError(`${where}.to_c`, "above_from");
    if (to_c === null && n < read.length - 1) throw new SheetError(`${where}.to_c`, "missing");
    if (before && from_c < (before.to_c ?? 0)) {
      throw new SheetError(`${where}.from_c`, "rows_follow");
    }
    if (before && held > before.held) throw new SheetError(`${where}.minutes`, "warm_is_fast");
  }
}

function ratio(data: Json | undefined, field: string): void {
  if (data === null || data === undefined) return;
  const given = record(data, field, ["base", "hardener"]);
  number(given.base, `${field}.base`, [1e-6, 1e6]);
  number(given.hardener, `${field}.hardener`, [1e-6, 1e6]);
}

function catalyst(data: Json | undefined): void {
  if (data === null || data === undefined) return;
  const field = "mix.catalyst";
  const given = record(data, field, ["min_pct", "usual_pct", "max_pct"]);
  const [low = 0, usual = 0, high = 0] = ["min_pct", "usual_pct", "max_pct"].map((name) =>
    number(given[name], `${field}.${name}`, PERCENTS),
  );
  if (!(low <= usual && usual <= high)) throw new SheetError(`${field}.usual_pct`, "between");
}

function limits(data: Json): void {
  const names_of = ["temp_min_c", "temp_max_c", "rh_max_pct", "dew_margin_min_c"];
  const given = record(data, "limits", names_of);
  const low_c = optional(given, "temp_min_c", TEMP_C, "limits.");
  const high_c = optional(given, "temp_max_c", TEMP_C, "limits.");
  optional(given, "rh_max_pct", [1, 100], "limits.");
  optional(given, "dew_margin_min_c", [0, 20], "limits.");
  if (low_c !== null && high_c !== null && high_c <= low_c)
    throw new SheetError("limits.temp_max_c", "above_min");
}

function names(data: Json | undefined): void {
  if (!isObject(data) || !("en" in data)) throw new SheetError("name", "missing");
  for (const language of Object.keys(data))
    if (!LANGUAGE.test(language)) throw new SheetError("name", "language");
  for (const [language, one] of Object.entries(data)) text(one, `name.${language}`);
}

function cautions(data: Json): void {
  for (const [n, one] of list(data, "cautions").entries())
    if (typeof one !== "string" || !Object.hasOwn(CAUTIONS, one))
      throw new SheetError(`cautions[${n}]`, "unknown");
}

function material(value: Json | undefined): void {
  if (value === null || value === undefined) return;
  if (!MATERIALS.some((one) => one === value)) throw new SheetError("compatibility", "unknown");
}

function postCure(data: Json | undefined): void {
  if (data === null || data === undefined) return;
  const given = record(data, "post_cure", ["ramp_k_h", "soaks"]);
  const soaks = list(given.soaks, "post_cure.soaks");
  if (soaks.length < 1 || soaks.length > SOAKS_MAX_N)
    throw new SheetError("post_cure.soaks", "missing");
  number(given.ramp_k_h, "post_cure.ramp_k_h", [0.1, 600]);
  for (const [n, one] of soaks.entries()) {
    const soak = record(one, `post_cure.soaks[${n}]`, ["temp_c", "minutes"]);
    number(soak.temp_c, `post_cure.soaks[${n}].temp_c`, SOAK_C);
    minutes(soak.minutes, `post_cure.soaks[${n}].minutes`);
  }
}

function record(data: Json | undefined, field: string, known: readonly string[]): Values {
  if (!isObject(data)) throw new SheetError(field || "profile", "missing");
  for (const name of Object.keys(data))
    if (!known.includes(name)) throw new SheetError(field ? `${field}.${name}` : name, "unknown");
  return data as Values;
}

function list(data: Json | undefined, field: string): Json[] {
  if (!Array.isArray(data)) throw new SheetError(field, "missing");
  return data;
}

function inPairs<T>(all: readonly T[], check: (low: T, high: T, n: number) => void): void {
  all.slice(1).forEach((high, n) => {
    check(all[n] as T, high, n + 1);
  });
}

type Range = readonly [number, number];

function optional(given: Values, name: string, range: Range, prefix = ""): number | null {
  const value = given[name];
  return value === null || value === undefined ? null : number(value, prefix + name, range);
}

function number(value: Json | undefined, field: string, [low, high]: Range): number {
  if (typeof value !== "number") throw new SheetError(field, "missing");
  if (!(value >= low && value <= high)) throw new SheetError(field, "range", { low, high });
  return value;
}

function minutes(value: Json | undefined, field: string): number {
  const read = number(value, field, [0, MINUTES_MAX]);
  if (read === 0) throw new SheetError(field, "above_zero");
  return read;
}

function whole(value: Json | undefined, field: string): void {
  if (typeof value !== "number" || !Number.isInteger(value) || value < 1)
    throw new SheetError(field, "missing");
}

function text(value: Json | undefined, field: string): void {
  if (typeof value !== "string" || value.trim() === "") throw new SheetError(field, "missing");
}

function matching(value: Json | undefined, field: string): void {
  if (typeof value !== "string" || !ID.test(value)) throw new SheetError(field, "missing");
}
