/** The sums of film and paint by their stable names; what they are given was read by the schema. */

import {
  afterLoss,
  beforeLoss,
  coatsTo,
  combTeeth,
  dryFilmUm,
  LOSS_BY_METHOD,
  lossPctOf,
  type Method,
  solidsThinnedPct,
  theoreticalM2PerL,
  wetFilmUm,
} from "./film.ts";
import { type FilmRule, judge } from "./film_readings.ts";
import { packsFor } from "./packs.ts";

interface Paint {
  readonly solids_by_volume_pct: number;
  readonly thinning_pct: number;
}

interface Dry extends Paint {
  readonly dry_film_um: number;
}

interface Laid {
  readonly dry_film_um: number;
  readonly solids_by_volume_pct: number;
  readonly loss_pct: number | null;
  readonly method: Method | null;
}

interface Job extends Laid {
  readonly area_m2: number;
  readonly coats: number;
  readonly thinning_pct: number;
  readonly pack_sizes_l: readonly number[];
}

interface Readings {
  readonly readings_um: readonly number[];
  readonly specified_um: number;
  readonly rule: FilmRule;
  readonly most_um: number | null;
}

const basisOf = (method: Method | null) => (method === null ? "formula" : "common_practice");

export function wetFilm({ dry_film_um, solids_by_volume_pct, thinning_pct }: Dry) {
  return {
    wet_film_um: wetFilmUm(dry_film_um, solids_by_volume_pct, thinning_pct),
    solids_thinned_pct: solidsThinnedPct(solids_by_volume_pct, thinning_pct),
  };
}

export function dryFilm(given: Paint & { wet_film_um: number }) {
  const { wet_film_um, solids_by_volume_pct, thinning_pct } = given;
  return {
    dry_film_um: dryFilmUm(wet_film_um, solids_by_volume_pct, thinning_pct),
    solids_thinned_pct: solidsThinnedPct(solids_by_volume_pct, thinning_pct),
  };
}

export function combTarget(given: Dry & { teeth_um: readonly number[] }) {
  const { wet_film_um } = wetFilm(given);
  return { wet_film_um, ...combTeeth(wet_film_um, given.teeth_um) };
}

export function coatsToThickness(given: { total_film_um: number; film_per_coat_um: number }) {
  const coats = coatsTo(given.total_film_um, given.film_per_coat_um);
  return {
    coats,
    least_per_coat_um: given.total_film_um / coats,
    built_film_um: coats * given.film_per_coat_um,
  };
}

export function filmAcceptance({ readings_um, specified_um, rule, most_um }: Readings) {
  const judged = judge(readings_um, specified_um, rule, most_um);
  const count = readings_um.length;
  const spread = readings_um.reduce((sum, one) => sum + (one - judged.mean_um) ** 2, 0);
  return {
    accepted: judged.reasons.length === 0,
    count,
    ...judged,
    deviation_um: count > 1 ? Math.sqrt(spread / (count - 1)) : null,
    thin_pct: (100 * judged.thin_count) / count,
    basis: "from_memory",
    notes: ["rule_from_memory"],
  };
}

export function spreadingRate({ dry_film_um, solids_by_volume_pct, loss_pct, method }: Laid) {
  const loss = lossPctOf(loss_pct, method);
  const theoretical_m2_per_l = theoreticalM2PerL(dry_film_um, solids_by_volume_pct);
  return {
    theoretical_m2_per_l,
    practical_m2_per_l: afterLoss(theoretical_m2_per_l, loss),
    loss_pct: loss,
    basis: basisOf(method),
  };
}

export function paintNeeded(given: Job) {
  const loss_pct = lossPctOf(given.loss_pct, given.method);
  const per_l = theoreticalM2PerL(given.dry_film_um, given.solids_by_volume_pct);
  const theoretical_l = (given.area_m2 * given.coats) / per_l;
  const order_l = beforeLoss(theoretical_l, loss_pct);
  const packs = given.pack_sizes_l.length > 0 ? packsFor(order_l, given.pack_sizes_l) : [];
  const packs_l = packs.reduce((sum, { pack_l, count }) => sum + pack_l * count, 0);
  return {
    theoretical_l,
    order_l,
    thinner_l: (order_l * given.thinning_pct) / 100,
    per_coat_l: order_l / given.coats,
    packs,
    pack_count: packs.reduce((sum, { count }) => sum + count, 0),
    packs_l,
    left_over_l: packs.length > 0 ? Math.max(0, packs_l - order_l) : 0,
    loss_pct,
    basis: basisOf(given.method),
  };
}

export const FILM_SUMS = {
  wet_film: wetFilm,
  dry_film: dryFilm,
  comb_target: combTarget,
  coats_to_thickness: coatsToThickness,
  film_acceptance: filmAcceptance,
  spreading_rate: spreadingRate,
  loss_by_method: ({ method }: { method: Method }) => ({
    ...LOSS_BY_METHOD[method],
    basis: "common_practice",
  }),
  paint_needed: paintNeeded,
};
