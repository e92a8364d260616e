/** Reading a product's profile as it lies in a record: what the sheet leaves out is null. */
import { TradeError } from "../clocks/errors.ts";
import { checkBands } from "../clocks/induction.ts";
import {
  type HottestHourRow,
  type InductionBand,
  type Limits,
  type Mix,
  type Profile,
  STAGES,
  type Stage,
  type StagePoint,
} from "../clocks/types.ts";
import { isObject } from "../merge/refused.ts";
import type { Json } from "../merge/state.ts";

const NO_MIX: Mix = {
  by_mass: null,
  by_volume: null,
  catalyst: null,
  induction_minutes: null,
  pot_reference_kg: null,
};

const NO_LIMITS: Limits = {
  temp_min_c: null,
  temp_max_c: null,
  rh_max_pct: null,
  dew_margin_min_c: null,
};

const BARE = {
  id: "",
  version: 1,
  product_class: "",
  name: {},
  typical: true,
  basis_note: "",
  closes_by_hottest_hour: [],
  density_kg_l: null,
  solids_by_volume_pct: null,
  film_um: null,
  sanding_after_missed_minutes_per_m2: null,
  cautions: [],
  compatibility: null,
  post_cure: null,
};

const TEMP_MIN_C = -50;
const TEMP_MAX_C = 150;
const MINUTES_MAX = 10 * 366 * 1440;
const INDUCTION_MAX = 1440;
const WINDOWS: readonly [Stage, Stage][] = [
  ["recoat_opens", "recoat_closes"],
  ["immerse_opens", "immerse_closes"],
];

/**
 * Read a profile; throws TradeError where no clock could run by it. What the clocks run by is checked as the server
 * does; words and cautions are not.
 */
export function readProfile(data: Json | undefined): Profile {
  if (!isObject(data)) throw new TradeError("profile", "must be an object");
  const stages = stagesOf(data.stages ?? null);
  const closes_by_hottest_hour = rowsOf(data.closes_by_hottest_hour ?? []);
  const given = isObject(data.mix) ? data.mix : {};
  const induction_by_temp = bandsOf(given.induction_by_temp ?? []);
  const mix = { ...NO_MIX, ...given, induction_by_temp };
  const limits = { ...NO_LIMITS, ...(isObject(data.limits) ? data.limits : {}) };
  const read = { ...BARE, ...data, stages, closes_by_hottest_hour, mix, limits };
  return read as unknown as Profile;
}

type Stages = Partial<Record<Stage, StagePoint[]>>;

function stagesOf(data: Json): Stages {
  if (!isObject(data) || Object.keys(data).length === 0) {
    throw new TradeError("stages", "a profile needs at least one stage");
  }
  const stages: Stages = {};
  for (const [name, points] of Object.entries(data)) {
    const stage = STAGES.find((one) => one === name);
    if (stage === undefined) throw new TradeError(`stages.${name}`, "is not a stage");
    stages[stage] = pointsOf(points, `stages.${name}`);
  }
  for (const [opens, closes] of WINDOWS) checkWindow(stages, opens, closes);
  return stages;
}

function pointsOf(data: Json, field: string): StagePoint[] {
  const points = listOf(data, field).map((point, n) => ({
    temp_c: numberOf(point, "temp_c", `${field}[${n}]`, TEMP_MIN_C, TEMP_MAX_C),
    minutes: minutesOf(point, "minutes", `${field}[${n}]`),
  }));
  if (points.length === 0) throw new TradeError(field, "a stage needs at least one point");
  inPairs(points, (low, high) => {
    if (high.temp_c <= low.temp_c) throw new TradeError(field, "temperatures must rise");
    if (high.minutes > low.minutes) throw new TradeError(field, "warmer cannot take longer");
  });
  return points;
}

function checkWindow(stages: Stages, opens: Stage, closes: Stage): void {
  const opening = new Map(stages[opens]?.map((point) => [point.temp_c, point.minutes]));
  const early = stages[closes]?.some((point) => point.minutes < (opening.get(point.temp_c) ?? 0));
  if (early) throw new TradeError(`stages.${closes}`, "closes before it opens");
}

function rowsOf(data: Json): HottestHourRow[] {
  const field = "closes_by_hottest_hour";
  const rows = listOf(data, field).map((row, n) => ({
    from_c: numberOf(row, "from_c", `${field}[${n}]`, TEMP_MIN_C, TEMP_MAX_C),
    to_c: numberOf(row, "to_c", `${field}[${n}]`, TEMP_MIN_C, TEMP_MAX_C),
    closes_minutes: minutesOf(row, "closes_minutes", `${field}[${n}]`),
  }));
  if (rows.some((row) => row.to_c <= row.from_c)) throw new TradeError(field, "to_c is too low");
  inPairs(rows, (low, high) => {
    if (high.from_c < low.to_c) throw new TradeError(field, "rows must follow one another upward");
    if (high.closes_minutes > low.closes_minutes) {
      throw new TradeError(field, "hotter cannot close later");
    }
  });
  return rows;
}

function bandsOf(data: Json): InductionBand[] {
  const field = "mix.induction_by_temp";
  const bands = listOf(data, field).map((band, n) => {
    const where = `${field}[${n}]`;
    const open = !isObject(band) || band.to_c === null || band.to_c === undefined;
    return {
      from_c: numberOf(band, "from_c", where, TEMP_MIN_C, TEMP_MAX_C),
      to_c: open ? null : numberOf(band, "to_c", where, TEMP_MIN_C, TEMP_MAX_C),
      minutes: numberOf(band, "minutes", where, 0, INDUCTION_MAX),
    };
  });
  checkBands(bands, field);
  return bands;
}

function inPairs<T>(rows: readonly T[], check: (low: T, high: T) => void): void {
  rows.slice(1).forEach((high, n) => {
    check(rows[n] as T, high);
  });
}

function listOf(data: Json, field: string): Json[] {
  if (!Array.isArray(data)) throw new TradeError(field, "must be a list");
  return data;
}

function numberOf(data: Json, name: string, field: string, low: number, high: number): number {
  const value = isObject(data) ? data[name] : undefined;
  if (typeof value === "number" && value >= low && value <= high) return value;
  throw new TradeError(`${field}.${name}`, `must lie in ${low} to ${high}`);
}

function minutesOf(data: Json, name: string, field: string): number {
  const minutes = numberOf(data, name, field, 0, MINUTES_MAX);
  if (minutes === 0) throw new TradeError(`${field}.${name}`, "must be above zero");
  return minutes;
}
