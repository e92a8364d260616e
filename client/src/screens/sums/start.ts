/** What a sum starts from: the step at hand, its zone's area, its product's numbers, the air as it was just measured. */
import { stageTime } from "../../clocks/arrhenius.ts";
import { isoOf } from "../../clocks/instants.ts";
import { type CoatFacts, stateOf } from "../../clocks/readiness.ts";
import { latestAir } from "../../clocks/readiness_air.ts";
import { FIT_OVER_S } from "../../clocks/temperature.ts";
import type { Profile, Reading, StagePoint } from "../../clocks/types.ts";
import { coatsOn, isApplied, item, refit, stepName, text } from "../../parts/know.ts";
import { clocks, stepStories } from "../../store/derived.ts";
import { now } from "../../store/now.ts";
import { CoatFactsOf } from "../../store/reckon/coat_facts.ts";
import { curveOf, readingOf } from "../../store/reckon/sources.ts";
import { type Json, view } from "../../store/view.ts";
import { language } from "../../words/index.ts";
import { belowJob, materialBy, orderOf, plannedIn } from "../job/order.ts";
import type { Described } from "./registry.ts";

const FRESH_MS = 3 * 3600_000;
const USUAL_C = 20;

type Values = Record<string, Json | undefined>;

/** The numbers of a tin as it lies with the product; what it lacks is absent. */
export const profileOf = (product_id: string): Partial<Profile> =>
  (item("product", product_id)?.fields.profile as Partial<Profile> | undefined) ?? {};

/** What the meters showed since so long ago. */
function readingsSince(span_ms: number): Reading[] {
  const read = view.value.records("reading").map(readingOf);
  return read.filter((one) => one.at <= now.value && one.at > now.value - span_ms);
}

const readingsNow = (): Json =>
  readingsSince(FIT_OVER_S * 1000).map(({ at, ...shown }) => ({ at: isoOf(at), ...shown }));

/** The last of each that was measured, while it still says something about now. */
function freshAir(): Values {
  const { air_c, surface_c, rh_pct } = latestAir(readingsSince(FRESH_MS));
  return { air_c, surface_c, rh_pct, dry_bulb_c: air_c, start_c: air_c };
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

/** The steps of the job at hand, each with what its product is made of, on what another job laid there or the ground. */
function orderNow(step_id: string): Values {
  const job_id = text(item("step", step_id), "job_id");
  const { laid, ground } = belowJob(job_id);
  const steps = plannedIn(job_id);
  const named = orderOf(steps, laid?.step_id).map((one, n) => ({
    ...{ ...one, step_id: steps[n]?.name ?? "" },
  }));
  const first = laid ? [{ ...laid, step_id: stepName(item("step", laid.step_id)) }] : [];
  return { steps: [...first, ...named], under: ground?.under, state: ground?.state };
}

/** What is true of a step that lays something, as the question whether it may begin has it. */
function factsOf(step_id: string): CoatFacts | null {
  const step = item("step", step_id);
  if (!step || !isApplied(step)) return null;
  const gathered = new CoatFactsOf(view.value, stepStories.value, now.value);
  return gathered.question(step_id)?.facts ?? null;
}

/** What lies below a step, as the table is asked about it. */
function belowNow(step_id: string): Values {
  const below = factsOf(step_id)?.below;
  return below?.material ? { under: below.material, state: stateOf(below, now.value) } : {};
}

/** The window of what lies below a step, where a product for it is known; else that of the product itself. */
function missedNow(step_id: string, profile: Partial<Profile>): Values {
  const below = factsOf(step_id)?.below;
  const over = materialBy(profile as Json);
  if (!below?.material || below.opens_at === null)
    return { under: over, sand_minutes_per_m2: profile.sanding_after_missed_minutes_per_m2 };
  return { under: below.material, over, sand_minutes_per_m2: below.sand_minutes_per_m2 };
}

/** The question whether a step's coat may go on, with all that this phone knows of it. */
function questionNow(step_id: string, profile: Partial<Profile>): Values {
  const yard = refit();
  const facts = factsOf(step_id);
  const { below, owed = [], held_reason, coat_s, tack } = facts ?? {};
  const instant = (at: number | null) => (at === null ? null : isoOf(at));
  return {
    limits: profile.limits as Json | undefined,
    touch_dry: profile.stages?.touch_dry as Json | undefined,
    readings: readingsNow(),
    curve: yard && ({ ...curveOf(view.value, yard, now.value) } as Json),
    below: below && {
      ...below,
      touch_dry_at: instant(below.touch_dry_at),
      opens_at: instant(below.opens_at),
      closes_at: instant(below.closes_at),
    },
    owed: owed.map(({ step_id: id, kind, until_at }) => ({
      ...{ step_id: stepName(item("step", id)), kind, until_at: instant(until_at) },
    })),
    ...{ held_reason, coat_s, tack, kind: item("step", step_id)?.fields.kind },
  };
}

const ACTIONS: Readonly<Record<string, string>> = {
  ...{ laminate: "laminate", fillet: "laminate", sand: "sand", grind: "grind" },
};

/** What the board has of a step's place: its area, the last pot and the last film. */
function fromStep(step_id: string): Values {
  const step = item("step", step_id);
  const job = item("job", text(step, "job_id"));
  const area_m2 = item("zone", text(job, "zone_id"))?.fields.area_m2;
  const pot = view.value
    .records("mix")
    .filter((row) => row.body.step_id === step_id)
    .at(-1)?.body;
  const pot_g = Number(pot?.base_g ?? 0) + Number(pot?.hardener_g ?? 0);
  return {
    area_m2,
    areas_m2: typeof area_m2 === "number" ? [area_m2] : undefined,
    pot_kg: pot_g > 0 ? pot_g / 1000 : undefined,
    wet_film_um: coatsOn(step_id).at(-1)?.body.film_wet_um,
    action: ACTIONS[text(step, "kind")],
  };
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
    over: materialBy(profile as Json),
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
    induction_by_temp: mix?.induction_by_temp as Json | undefined,
    pot_reference_kg: mix?.pot_reference_kg,
    pot_life_minutes: minutesAt(stages?.pot_life, at_c),
    rule_k: limits?.dew_margin_min_c,
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

/** What one sum asks that others name alike and mean otherwise. */
function ofSum(sum: string, step_id: string, profile: Partial<Profile>): Values {
  if (sum === "catalyst") return catalystOf(profile);
  if (sum === "filler_mix") return { resin_kg_l: profile.density_kg_l };
  if (sum === "immersion_window") return { coats: coatsNow() };
  if (sum === "job_order") return orderNow(step_id);
  if (sum === "may_go_over") return belowNow(step_id);
  if (sum === "missed_window") return { over: null, ...missedNow(step_id, profile) };
  if (sum === "laminate_schedule") return { on_gelcoat: belowNow(step_id).under === "gelcoat" };
  if (sum === "laminating_air") return { readings: readingsNow() };
  return sum === "may_coat_now" ? questionNow(step_id, profile) : {};
}

/**
 * The values that a sum's form starts with; only of fields that it has. A pot has the temperature of the air, as its
 * clock takes it too.
 */
export function startOf(sum: Described, step_id: string, product_id: string): Record<string, Json> {
  const air = freshAir();
  const temp_c = (air.air_c ?? air.surface_c) as number | null;
  const profile = profileOf(product_id);
  const known: Values = {
    ...fromStep(step_id),
    ...air,
    temp_c,
    ...fromProduct(sum.name, profile, temp_c ?? USUAL_C),
    launch_at: refit()?.fields.launch_at,
    now_at: new Date(now.value).toISOString(),
    start_at: new Date(now.value).toISOString(),
    language: language(),
    profile: product_id || null,
    ...ofSum(sum.name, step_id, profile),
  };
  const fields = Object.keys(sum.takes.properties ?? {});
  const given = fields.flatMap((name) => {
    const value = known[name];
    return value === undefined || value === null ? [] : [[name, value] as const];
  });
  return Object.fromEntries(given);
}
