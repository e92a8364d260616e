/** What a sum starts from: the step at hand, its zone's area, its product's numbers, the air as it was just measured. */
import { stageTime } from "../../clocks/arrhenius.ts";
import { materialOf } from "../../clocks/compatibility.ts";
import type { Profile, StagePoint } from "../../clocks/types.ts";
import { item, refit, text } from "../../parts/know.ts";
import { clocks, latestReading } from "../../store/derived.ts";
import { now } from "../../store/now.ts";
import type { Json } from "../../store/view.ts";
import { language } from "../../words/index.ts";
import { orderOf, plannedIn } from "../job/order.ts";
import type { Described } from "./registry.ts";

const FRESH_MS = 3 * 3600_000;
const USUAL_C = 20;

type Values = Record<string, Json | undefined>;

/** The numbers of a tin as it lies with the product; what it lacks is absent. */
export const profileOf = (product_id: string): Partial<Profile> =>
  (item("product", product_id)?.fields.profile as Partial<Profile> | undefined) ?? {};

/** The last reading of the meter, while it still says something about now. */
function freshAir(): { air_c?: number; surface_c?: number; rh_pct?: number } {
  const body = latestReading.value?.body;
  const old = now.value - Date.parse(String(body?.taken_at ?? "")) > FRESH_MS;
  return body && !old ? body : {};
}

/** When each coat on the board opens and closes to the water, and what the launch is booked for. */
function coatsNow(): Json {
  const coats = new Map<string, { source_id: string; opens_at: Json; closes_at: Json }>();
  for (const clock of clocks.value) {
    if (!clock.kind.startsWith("immerse_") || clock.at === null) continue;
    const name = [clock.zone_name, clock.step_title || clock.product_name]
      .filter(Boolean)
      .join(": ");
    const coat = coats.get(clock.root_id) ?? { source_id: name, opens_at: null, closes_at: null };
    const at = new Date(clock.at).toISOString();
    if (clock.kind === "immerse_opens") coat.opens_at = at;
    else coat.closes_at = at;
    coats.set(clock.root_id, coat);
  }
  return [...coats.values()];
}

/** The steps of the job at hand, each with what its product is made of. */
function stepsNow(step_id: string): Json {
  const steps = plannedIn(text(item("step", step_id), "job_id"));
  return orderOf(steps).map(({ kind, material, in_window, tack }, n) => ({
    ...{ step_id: steps[n]?.name ?? "", kind, material, in_window, tack },
  }));
}

const materialNow = ({ product_class, compatibility }: Partial<Profile>) =>
  product_class ? materialOf(product_class, compatibility ?? null) : null;

function fromZone(step_id: string): Values {
  const job = item("job", text(item("step", step_id), "job_id"));
  return { area_m2: item("zone", text(job, "zone_id"))?.fields.area_m2 };
}

/** Minutes that a stage takes at a temperature, where the tin says so at all. */
function minutesAt(points: readonly StagePoint[] | undefined, temp_c: number): number | undefined {
  if (!points?.length) return undefined;
  return Math.floor(stageTime(points, temp_c).seconds / 60);
}

function fromProduct(sum: string, profile: Partial<Profile>, temp_c: number): Values {
  const { mix, limits, film_um, stages } = profile;
  const ratio = sum === "mix_by_volume" ? mix?.by_volume : mix?.by_mass;
  const at_c = sum === "pot_heat" ? USUAL_C : temp_c;
  return {
    product_class: profile.product_class,
    over: sum === "missed_window" ? null : materialNow(profile),
    under: sum === "missed_window" ? materialNow(profile) : undefined,
    sand_minutes_per_m2: profile.sanding_after_missed_minutes_per_m2,
    ramp_k_h: profile.post_cure?.ramp_k_h,
    soaks: profile.post_cure?.soaks as Json | undefined,
    solids_by_volume_pct: profile.solids_by_volume_pct,
    dry_film_um: film_um,
    film_per_coat_um: film_um,
    specified_um: film_um,
    density_kg_l: profile.density_kg_l,
    ratio_base: ratio?.base,
    ratio_hardener: ratio?.hardener,
    induction_minutes: mix?.induction_minutes,
    pot_reference_kg: mix?.pot_reference_kg,
    pot_life_minutes: minutesAt(stages?.pot_life, at_c),
    rule_k: limits?.dew_margin_min_c,
    ...(sum === "filler_mix" ? { resin_kg_l: profile.density_kg_l } : {}),
    ...(sum === "catalyst" ? catalystOf(profile) : {}),
  };
}

function catalystOf({ mix, limits }: Partial<Profile>): Values {
  return {
    catalyst_pct: mix?.catalyst?.usual_pct,
    min_pct: mix?.catalyst?.min_pct,
    max_pct: mix?.catalyst?.max_pct,
    temp_min_c: limits?.temp_min_c,
    temp_max_c: limits?.temp_max_c,
  };
}

/** The values that a sum's form starts with; only of fields that it has. */
export function startOf(sum: Described, step_id: string, product_id: string): Record<string, Json> {
  const air = freshAir();
  const temp_c = air.surface_c ?? air.air_c;
  const profile = profileOf(product_id);
  const known: Values = {
    ...fromZone(step_id),
    ...air,
    temp_c,
    ...fromProduct(sum.name, profile, temp_c ?? USUAL_C),
    start_c: air.air_c,
    ...(sum.name === "immersion_window" ? { coats: coatsNow() } : {}),
    ...(sum.name === "job_order" ? { steps: stepsNow(step_id) } : {}),
    launch_at: refit()?.fields.launch_at,
    now_at: new Date(now.value).toISOString(),
    start_at: new Date(now.value).toISOString(),
    language: language(),
    profile: product_id || null,
  };
  const fields = Object.keys(sum.takes.properties ?? {});
  const given = fields.flatMap((name) => {
    const value = known[name];
    return value === undefined || value === null ? [] : [[name, value] as const];
  });
  return Object.fromEntries(given);
}
