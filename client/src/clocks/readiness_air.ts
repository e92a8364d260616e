/**
 * The rules of the air for a coat, now and until it is dry: the twin of the server's `trade.readiness_air`.
 *
 * Source: 3 K, widely attributed to ISO 8502-4, from memory, or the product's own margin; most paints and 4.4 degC:
 * MIL-HDBK-1110 7.4.1; otherwise the product's data sheet.
 */

import { dewPointC, MAGNUS_A, MAGNUS_B_C } from "./air.ts";
import type { DoseLine } from "./dose.ts";
import { OutOfRangeError } from "./errors.ts";
import { lowestC, tempAtS } from "./forecast.ts";
import { instantOf, isoOf, secondsOf } from "./instants.ts";
import { RULE_3K } from "./surface.ts";
import type { Limits, Reading, Track } from "./types.ts";

export type Outcome = "ok" | "wait" | "no" | "unknown" | "not_checked" | "advice";
export type Rule =
  | "held"
  | "steps_before"
  | "reading"
  | "dew_now"
  | "dew_drying"
  | "temperature_now"
  | "temperature_drying"
  | "humidity"
  | "window"
  | "compatibility"
  | "laminating_temperature"
  | "laminating_swing"
  | "laminating_humidity";

export const AIR_RULES: readonly Rule[] = [
  "reading",
  "dew_now",
  "dew_drying",
  "temperature_now",
  "temperature_drying",
  "humidity",
];
export const FRESH_S = 2 * 3600;
export const SHEET = "the product's data sheet";
const ISO = "ISO 8502-4, from memory";
const HANDBOOK = "MIL-HDBK-1110 7.4.1";
const METER = "our own caution";
const EDGE_K = 1e-9;
const PAINT_MIN_C = (45 - 32) / 1.8;
const PAINT_MAX_C = (90 - 32) / 1.8;
const NEVER_BELOW_C = (40 - 32) / 1.8;

export interface AirFacts {
  readonly air_c: number | null;
  readonly surface_c: number | null;
  readonly rh_pct: number | null;
  readonly measured_at: number | null;
}

export interface RuleOutcome {
  readonly rule: Rule;
  readonly outcome: Outcome;
  readonly code: string;
  readonly source: string;
  readonly params: Readonly<Record<string, string | number>>;
}

type Params = Record<string, string | number>;

export function ruleOf(
  rule: Rule,
  outcome: Outcome,
  code: string,
  source: string,
  params: Params = {},
): RuleOutcome {
  return { rule, outcome, code, source, params };
}

/** Asks the rules of the air now, and whether they are expected to hold at an instant ahead. */
export class AirRules {
  private readonly marginK: number;
  private readonly marginSource: string;
  private readonly lowC: number;
  private readonly highC: number;
  private readonly tempSource: string;
  private readonly dryMinC: number;
  private readonly dewC: number | null;

  constructor(
    private readonly air: AirFacts,
    private readonly limits: Limits,
    private readonly track: Track,
    private readonly line: DoseLine | null,
    private readonly coatS: number,
    private readonly nowS: number,
  ) {
    const { dew_margin_min_c, temp_min_c, temp_max_c } = limits;
    this.marginK = dew_margin_min_c ?? RULE_3K;
    this.marginSource = dew_margin_min_c === null ? ISO : SHEET;
    this.lowC = temp_min_c ?? PAINT_MIN_C;
    this.highC = temp_max_c ?? PAINT_MAX_C;
    this.tempSource = temp_min_c === null || temp_max_c === null ? HANDBOOK : SHEET;
    this.dryMinC = Math.min(NEVER_BELOW_C, this.lowC);
    this.dewC = dewOf(air);
  }

  /** Give the outcome of each rule of the air. */
  rulesNow(): RuleOutcome[] {
    const reading = this.reading();
    if (reading.outcome !== "ok") return [reading];
    return [reading, this.dewNow(), ...this.drying(), this.temperature(), this.humidity()];
  }

  /** Say whether all of them are expected to hold at an instant ahead. */
  holds(atS: number): boolean {
    const tempC = tempAtS(this.track, atS);
    if (!(tempC >= this.lowC - EDGE_K && tempC <= this.highC + EDGE_K)) return false;
    if (this.dewC === null || tempC - this.dewC < this.marginK - EDGE_K) return false;
    const limitPct = this.limits.rh_max_pct;
    if (limitPct !== null && rhPct(tempC, this.dewC) > limitPct + EDGE_K) return false;
    const dryS = this.dryS(atS);
    if (dryS === null) return true;
    if (dryS === Number.POSITIVE_INFINITY) return false;
    const coldC = lowestC(this.track, atS, dryS);
    return coldC - this.dewC >= this.marginK - EDGE_K && coldC >= this.dryMinC - EDGE_K;
  }

  private reading(): RuleOutcome {
    const { measured_at, surface_c } = this.air;
    if (measured_at === null || this.dewC === null || surface_c === null) {
      return ruleOf("reading", "unknown", "no_reading", METER);
    }
    const params = { measured_at: isoOf(measured_at) };
    if (this.nowS - secondsOf(measured_at) > FRESH_S) {
      return ruleOf("reading", "unknown", "stale_reading", METER, params);
    }
    return ruleOf("reading", "ok", "fresh_reading", METER, params);
  }

  private dewNow(): RuleOutcome {
    const dew_c = this.dewC ?? 0;
    const surface_c = this.air.surface_c ?? 0;
    const margin_k = surface_c - dew_c;
    const good = margin_k >= this.marginK - EDGE_K;
    const code = good ? "dew_margin_kept" : "too_near_dew_point";
    const params = { surface_c, dew_c, margin_k, limit_k: this.marginK };
    return ruleOf("dew_now", good ? "ok" : "wait", code, this.marginSource, params);
  }

  private drying(): RuleOutcome[] {
    const dryS = this.dryS(this.nowS);
    if (dryS === null) return [ruleOf("dew_drying", "not_checked", "touch_dry_not_given", SHEET)];
    if (dryS === Number.POSITIVE_INFINITY) {
      return [ruleOf("temperature_drying", "wait", "never_touch_dry", SHEET)];
    }
    const dew_c = this.dewC ?? 0;
    const lowest_c = lowestC(this.track, this.nowS, dryS);
    const margin_k = lowest_c - dew_c;
    const near = margin_k < this.marginK - EDGE_K;
    const cold = lowest_c < this.dryMinC - EDGE_K;
    const params = { touch_dry_at: isoOf(instantOf(dryS)), lowest_c };
    return [
      ruleOf(
        "dew_drying",
        near ? "wait" : "ok",
        near ? "dew_before_dry" : "dew_margin_kept",
        this.marginSource,
        { ...params, dew_c, margin_k, limit_k: this.marginK },
      ),
      ruleOf(
        "temperature_drying",
        cold ? "wait" : "ok",
        cold ? "too_cold_before_dry" : "warm_enough",
        HANDBOOK,
        { ...params, limit_c: this.dryMinC },
      ),
    ];
  }

  private temperature(): RuleOutcome {
    const both = [this.air.air_c, this.air.surface_c].filter((one) => one !== null);
    const lowest_c = Math.min(...both);
    const highest_c = Math.max(...both);
    const cold = lowest_c < this.lowC - EDGE_K;
    const hot = highest_c > this.highC + EDGE_K;
    const code = cold ? "too_cold" : hot ? "too_hot" : "temperature_in_range";
    const params = { lowest_c, highest_c, min_c: this.lowC, max_c: this.highC };
    return ruleOf("temperature_now", cold || hot ? "wait" : "ok", code, this.tempSource, params);
  }

  private humidity(): RuleOutcome {
    const max_pct = this.limits.rh_max_pct;
    if (max_pct === null) return ruleOf("humidity", "not_checked", "humidity_not_given", SHEET);
    const rh_pct = this.air.rh_pct ?? 0;
    const damp = rh_pct > max_pct + EDGE_K;
    const code = damp ? "too_humid" : "humidity_in_range";
    return ruleOf("humidity", damp ? "wait" : "ok", code, SHEET, { rh_pct, max_pct });
  }

  private dryS(atS: number): number | null {
    if (this.line === null) return null;
    return this.line.reached(atS + this.coatS)?.at_s ?? Number.POSITIVE_INFINITY;
  }
}

function dewOf(air: AirFacts): number | null {
  if (air.air_c === null || air.rh_pct === null) return null;
  try {
    return dewPointC(air.air_c, air.rh_pct);
  } catch (error) {
    if (error instanceof OutOfRangeError) return null;
    throw error;
  }
}

function rhPct(tempC: number, dewC: number): number {
  const atDew = (MAGNUS_A * dewC) / (MAGNUS_B_C + dewC);
  return 100 * Math.exp(atDew - (MAGNUS_A * tempC) / (MAGNUS_B_C + tempC));
}

/**
 * Give the newest air, surface and humidity; the instant is that of the oldest of the three. Two values of one instant
 * count as the more careful one: the warmer and damper air, the colder surface.
 */
export function latestAir(readings: readonly Reading[]): AirFacts {
  const air = newest(readings, "air_c", 1);
  const surface = newest(readings, "surface_c", -1);
  const rh = newest(readings, "rh_pct", 1);
  const whole = air !== null && surface !== null && rh !== null;
  return {
    air_c: air?.value ?? null,
    surface_c: surface?.value ?? null,
    rh_pct: rh?.value ?? null,
    measured_at: whole ? Math.min(air.at, surface.at, rh.at) : null,
  };
}

function newest(
  readings: readonly Reading[],
  name: "air_c" | "surface_c" | "rh_pct",
  careful: number,
): { at: number; value: number } | null {
  let held: { at: number; value: number } | null = null;
  for (const { at, [name]: value } of readings) {
    if (value === null) continue;
    const later = held === null || at > held.at;
    const same = held !== null && at === held.at && careful * value > careful * held.value;
    if (later || same) held = { at, value };
  }
  return held;
}
