/** Reading a product's profile as it lies in a record: what the sheet leaves out is null. */
import { TradeError } from "../clocks/errors.ts";
import type { Limits, Mix, Profile, Stage, StagePoint } from "../clocks/types.ts";
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
};

/** Read a profile; throws TradeError where no clock could run by it. */
export function readProfile(data: Json | undefined): Profile {
  if (!isObject(data)) throw new TradeError("profile", "a profile is an object");
  const stages: Partial<Record<Stage, StagePoint[]>> = {};
  for (const [stage, points] of Object.entries(isObject(data.stages) ? data.stages : {})) {
    stages[stage as Stage] = pointsOf(points, `stages.${stage}`);
  }
  const mix = { ...NO_MIX, ...(isObject(data.mix) ? data.mix : {}) };
  const limits = { ...NO_LIMITS, ...(isObject(data.limits) ? data.limits : {}) };
  return { ...BARE, ...data, stages, mix, limits } as unknown as Profile;
}

function pointsOf(points: Json, field: string): StagePoint[] {
  if (!Array.isArray(points)) throw new TradeError(field, "a list of points is needed");
  return points.map((point) => {
    const { temp_c, minutes } = isObject(point) ? point : {};
    if (typeof temp_c === "number" && typeof minutes === "number" && minutes > 0) {
      return { temp_c, minutes };
    }
    throw new TradeError(field, "a point has a temperature and minutes above zero");
  });
}
