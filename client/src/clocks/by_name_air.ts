/** The sums of air and heat by their stable names; what they are given was read by the schema. */

import { dewPointC } from "./air.ts";
import { CHART_END_F, heatIndexF, heatLevel, SUN_F } from "./heat.ts";
import { rhOfDewPointPct, rhOfWetBulbPct, wetBulbC } from "./psychrometer.ts";
import {
  keeps,
  marginHeld,
  marginOf,
  RULE_3K,
  RULE_5F_K,
  temperatureReasons,
  whyNot,
} from "./surface.ts";

interface Air {
  readonly air_c: number;
  readonly rh_pct: number;
}

interface Surface extends Air {
  readonly surface_c: number;
}

interface Then extends Surface {
  readonly surface_then_c: number;
  readonly air_then_c: number;
  readonly rh_then_pct: number | null;
  readonly rule_k: number;
}

interface Bulbs {
  readonly dry_bulb_c: number;
  readonly wet_bulb_c: number;
  readonly pressure_hpa: number;
}

export function wetBulb(given: Air & { pressure_hpa: number }) {
  const wet_bulb_c = wetBulbC(given.air_c, given.rh_pct, given.pressure_hpa);
  const beyond = wet_bulb_c < 0;
  return {
    wet_bulb_c,
    basis: beyond ? "beyond" : "formula",
    reasons: beyond ? ["below_freezing"] : [],
  };
}

export function humidityFromWetBulb(given: Bulbs) {
  const rh_pct = rhOfWetBulbPct(given.dry_bulb_c, given.wet_bulb_c, given.pressure_hpa);
  return { rh_pct, dew_point_c: dewPointC(given.dry_bulb_c, rh_pct) };
}

export function surfaceMargin(given: Surface) {
  const { dew_point_c, margin_k } = marginOf(given.surface_c, given.air_c, given.rh_pct);
  return {
    dew_point_c,
    margin_k,
    ok_3k: keeps(margin_k, RULE_3K),
    ok_5f: keeps(margin_k, RULE_5F_K),
    need_surface_3k_c: dew_point_c + RULE_3K,
    need_surface_5f_c: dew_point_c + RULE_5F_K,
    reasons: whyNot(margin_k),
  };
}

export function marginAtTouchDry(given: Then) {
  const { surface_then_c, air_then_c, rh_then_pct, rule_k } = given;
  const now = marginOf(given.surface_c, given.air_c, given.rh_pct);
  const then =
    rh_then_pct === null
      ? marginHeld(surface_then_c, Math.min(now.dew_point_c, air_then_c))
      : marginOf(surface_then_c, air_then_c, rh_then_pct);
  const fails = [
    ...(keeps(now.margin_k, rule_k) ? [] : ["too_near_now"]),
    ...(keeps(then.margin_k, rule_k) ? [] : ["too_near_then"]),
    ...temperatureReasons([given.air_c, given.surface_c], [air_then_c, surface_then_c]),
  ];
  return {
    margin_now_k: now.margin_k,
    margin_then_k: then.margin_k,
    dew_point_then_c: then.dew_point_c,
    least_margin_k: Math.min(now.margin_k, then.margin_k),
    ok: fails.length === 0,
    reasons: [...fails, ...(rh_then_pct === null ? ["dew_point_held"] : [])],
  };
}

export function heatIndex(given: Air) {
  const heat_index_f = heatIndexF(given.air_c * 1.8 + 32, given.rh_pct);
  const level = heatLevel(heat_index_f);
  const level_in_sun = heatLevel(heat_index_f + SUN_F);
  const beyond = heat_index_f > CHART_END_F;
  const reasons = beyond ? ["beyond_chart"] : [];
  if (level_in_sun !== level) reasons.push("full_sun_is_harder");
  return {
    heat_index_c: (heat_index_f - 32) / 1.8,
    heat_index_f,
    level,
    level_in_sun,
    basis: beyond ? "beyond" : "formula",
    reasons,
  };
}

export const AIR_SUMS = {
  dew_point: (given: Air) => ({ dew_point_c: dewPointC(given.air_c, given.rh_pct) }),
  humidity_from_dew_point: (given: { air_c: number; dew_point_c: number }) => ({
    rh_pct: rhOfDewPointPct(given.air_c, given.dew_point_c),
  }),
  wet_bulb: wetBulb,
  humidity_from_wet_bulb: humidityFromWetBulb,
  surface_margin: surfaceMargin,
  margin_at_touch_dry: marginAtTouchDry,
  heat_index: heatIndex,
};
