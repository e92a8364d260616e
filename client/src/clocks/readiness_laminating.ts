/**
 * What is told of the air before resin is laid, advice and never a refusal: the twin of the server's
 * `trade.readiness_laminating`.
 *
 * Rules
 * - Asked only where glass or a fillet is laid, and only of what the product's own sheet leaves out.
 * - What was not measured is `not_checked`.
 */

import {
  LAMINATING,
  LAMINATING_BEFORE_H,
  LAMINATING_MIN_C,
  LAMINATING_RH_MAX_PCT,
  LAMINATING_RH_MIN_SPRAY_PCT,
  LAMINATING_SWING_MAX_K,
  type LaminatingAir,
} from "./laminating_air.ts";
import { type Rule, type RuleOutcome, ruleOf } from "./readiness_air.ts";
import type { Limits } from "./types.ts";

export const LAMINATES: ReadonlySet<string> = new Set(["laminate", "fillet"]);
const hours = LAMINATING_BEFORE_H;

/** Give the rules of the air for laminating of which the sheet says nothing. */
export function laminatingRules(air: LaminatingAir | null, limits: Limits): RuleOutcome[] {
  if (air === null) return [];
  return [
    ...(limits.temp_min_c === null ? [temperature(air), swing(air)] : []),
    ...(limits.rh_max_pct === null ? [humidity(air)] : []),
  ];
}

function temperature(air: LaminatingAir): RuleOutcome {
  const cold = air.reasons.includes("laminating_too_cold");
  const code = cold ? "laminating_too_cold" : "laminating_warm";
  const lowest_c = air.coldest_c ?? 0;
  const params = { lowest_c, min_c: LAMINATING_MIN_C, hours };
  return told("laminating_temperature", code, cold, air, params);
}

function swing(air: LaminatingAir): RuleOutcome {
  const wide = air.reasons.includes("laminating_swing");
  const code = wide ? "laminating_swing" : "laminating_steady";
  const params = { swing_k: air.swing_k ?? 0, max_k: LAMINATING_SWING_MAX_K, hours };
  return told("laminating_swing", code, wide, air, params);
}

function humidity({ rh_pct, reasons }: LaminatingAir): RuleOutcome {
  const rule = "laminating_humidity";
  if (rh_pct === null) return ruleOf(rule, "not_checked", "laminating_no_humidity", LAMINATING);
  const damp = reasons.includes("laminating_too_humid");
  const dry = reasons.includes("laminating_too_dry");
  const code = damp
    ? "laminating_too_humid"
    : dry
      ? "laminating_too_dry"
      : "laminating_humidity_kept";
  return ruleOf(rule, damp || dry ? "advice" : "ok", code, LAMINATING, {
    ...{ rh_pct, max_pct: LAMINATING_RH_MAX_PCT, min_pct: LAMINATING_RH_MIN_SPRAY_PCT },
  });
}

function told(
  rule: Rule,
  code: string,
  fails: boolean,
  air: LaminatingAir,
  params: Record<string, number>,
): RuleOutcome {
  if (air.coldest_c === null || !(fails || air.covered)) {
    return ruleOf(rule, "not_checked", "laminating_not_covered", LAMINATING, { hours });
  }
  return ruleOf(rule, fails ? "advice" : "ok", code, LAMINATING, params);
}
