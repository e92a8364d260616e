/**
 * May I coat now? The twin of the server's `trade.readiness`, which tells its theory and rules.
 *
 * Rules
 * - `no`: something must be done first. `not_yet`: nothing but waiting or a reading is lacking; `until_at` is the first
 *   instant at which every rule is expected to hold. `yes`: `until_at` is the last good instant.
 * - Now counts by what was measured; later by the track, with the dew point held.
 * - What is missing is never a silent yes.
 */

import { lawOf } from "./arrhenius.ts";
import { goesOver } from "./compatibility.ts";
import { type Ground, MATERIALS, type Material, type SurfaceState } from "./compatibility_table.ts";
import { DoseLine } from "./dose.ts";
import { instantOf, isoOf, secondsOf } from "./instants.ts";
import { type ProposedStep, stepsOf } from "./job_order.ts";
import type { LaminatingAir } from "./laminating_air.ts";
import { missedWindow } from "./missed_window.ts";
import {
  AIR_RULES,
  type AirFacts,
  AirRules,
  type RuleOutcome,
  ruleOf,
  SHEET,
} from "./readiness_air.ts";
import { laminatingRules } from "./readiness_laminating.ts";
import { isTheMend, TACK_SOURCE } from "./tack_coat.ts";
import { type Band, type Limits, type StagePoint, type Track, USUAL_BAND } from "./types.ts";

export const AHEAD_S = 48 * 3600;
export const LOOK_S = 1800;
const PREPARATION = ["survey", "open_up", "dry_out", "grind", "sand", "clean", "mask", "inspect"];
const PREPARED: readonly SurfaceState[] = ["washed", "keyed", "keyed_unwashed", "bare"];
const PLAN = "the plan";
const TABLE = "the table";

export interface Owed {
  readonly step_id: string;
  readonly kind: string;
  readonly until_at: number | null;
}

export interface Below {
  readonly material: Ground | null;
  readonly state: SurfaceState | null;
  readonly ended: boolean;
  readonly touch_dry_at: number | null;
  readonly opens_at: number | null;
  readonly closes_at: number | null;
  readonly sand_minutes_per_m2: number | null;
}

export interface CoatFacts {
  readonly now_at: number;
  readonly over: Material | null;
  readonly limits: Limits;
  readonly touch_dry: readonly StagePoint[];
  readonly air: AirFacts;
  readonly below: Below | null;
  readonly owed: readonly Owed[];
  readonly held_reason: string | null;
  readonly coat_s: number;
  readonly area_m2: number | null;
  readonly laminating: LaminatingAir | null;
  readonly tack: boolean;
}

export interface Readiness {
  readonly answer: "yes" | "not_yet" | "no";
  readonly until_at: number | null;
  readonly rules: readonly RuleOutcome[];
  readonly do_first: readonly ProposedStep[];
  readonly or_else: readonly ProposedStep[];
}

interface Told {
  readonly rule: RuleOutcome;
  readonly wait_at: number | null;
  readonly steps: readonly ProposedStep[];
  readonly or_else: readonly ProposedStep[];
}

/** Say whether a coat may go on now. */
export function mayCoatNow(facts: CoatFacts, track: Track, band: Band = USUAL_BAND): Readiness {
  const nowS = secondsOf(facts.now_at);
  const line =
    facts.touch_dry.length === 0
      ? null
      : new DoseLine(lawOf(facts.touch_dry), track, nowS, -1, band);
  const air = new AirRules(facts.air, facts.limits, track, line, facts.coat_s, nowS);
  const told = [
    ...heldOf(facts),
    ...owedOf(facts.owed, facts.now_at),
    ...air.rulesNow().map((rule) => say(rule)),
    ...laminatingRules(facts.laminating, facts.limits).map((rule) => say(rule)),
    windowOf(facts),
    compatibilityOf(facts),
  ];
  const rules = told.map((one) => one.rule);
  const said = { rules, do_first: [], or_else: [] };
  if (rules.some((rule) => rule.outcome === "no")) {
    const asks = told.find((one) => one.rule.outcome === "no" && one.steps.length > 0);
    const { steps, or_else } = asks ?? { steps: [], or_else: [] };
    return { answer: "no", until_at: null, rules, do_first: steps, or_else };
  }
  if (rules.some((rule) => rule.outcome === "wait" || rule.outcome === "unknown")) {
    return { answer: "not_yet", until_at: readyAt(facts, told, air, nowS), ...said };
  }
  return { answer: "yes", until_at: goodUntil(facts, air, nowS), ...said };
}

/** Give the state of what lies below at an instant. */
export function stateOf(below: Below, at: number): SurfaceState {
  if (below.state !== null) return below.state;
  if (below.closes_at !== null && below.closes_at <= at) {
    return below.material === "polyester_waxed" ? "waxed" : "glossy";
  }
  return below.touch_dry_at !== null && below.touch_dry_at > at ? "tacky" : "green";
}

function say(
  rule: RuleOutcome,
  wait_at: number | null = null,
  steps: readonly ProposedStep[] = [],
  or_else: readonly ProposedStep[] = [],
): Told {
  return { rule, wait_at, steps, or_else };
}

function heldOf(facts: CoatFacts): Told[] {
  if (facts.held_reason === null) return [];
  return [say(ruleOf("held", "no", "held", "the crew", { reason: facts.held_reason }))];
}

function owedOf(owed: readonly Owed[], nowAt: number): Told[] {
  const found = owed.flatMap(({ step_id, kind, until_at }) => {
    const params = { step_id, kind };
    if (until_at === null) {
      const code = PREPARATION.includes(kind) ? "preparation_owed" : "step_owed";
      return [say(ruleOf("steps_before", "no", code, PLAN, params))];
    }
    if (until_at <= nowAt) return [];
    const waits = { until_at: isoOf(until_at), ...params };
    return [say(ruleOf("steps_before", "wait", "before_curing", PLAN, waits), until_at)];
  });
  return found.length > 0 ? found : [say(ruleOf("steps_before", "ok", "nothing_owed", PLAN))];
}

function windowOf(facts: CoatFacts): Told {
  const { below, now_at } = facts;
  if (below === null) return say(ruleOf("window", "ok", "nothing_below", SHEET));
  if (!below.ended) return say(ruleOf("window", "unknown", "coat_not_ended", SHEET));
  if (prepared(below)) return say(ruleOf("window", "ok", "prepared", SHEET));
  if (below.state !== null && below.opens_at === null && below.closes_at === null) {
    return say(ruleOf("window", "ok", "no_window", SHEET));
  }
  if (below.opens_at !== null && below.opens_at > now_at) {
    const params = { opens_at: isoOf(below.opens_at) };
    return say(ruleOf("window", "wait", "window_not_open", SHEET, params), below.opens_at);
  }
  if (below.closes_at === null) return say(ruleOf("window", "ok", "window_open", SHEET));
  const params = { closes_at: isoOf(below.closes_at) };
  if (below.closes_at > now_at) return say(ruleOf("window", "ok", "window_open", SHEET, params));
  if (isTackOver(below, facts))
    return say(ruleOf("window", "ok", "tack_coat", TACK_SOURCE, params));
  const { steps, or_else } = missedSteps(below, facts);
  return say(ruleOf("window", "no", "window_missed", SHEET, params), null, steps, or_else);
}

/** Say whether a tack coat goes on what lies below after its window. */
function isTackOver(below: Below, { tack, over, now_at }: CoatFacts): boolean {
  if (!tack || over === null || below.material === null) return false;
  return isTheMend(over, below.material, goesOver(over, below.material, stateOf(below, now_at)));
}

function missedSteps(below: Below, facts: CoatFacts) {
  const material = MATERIALS.find((one) => one === below.material);
  if (material === undefined || facts.over === null) {
    return { steps: stepsOf(["clean", "sand", "clean"]), or_else: [] };
  }
  return missedWindow(material, facts.area_m2, below.sand_minutes_per_m2, facts.over);
}

function compatibilityOf(facts: CoatFacts): Told {
  const { below, over, now_at } = facts;
  if (below === null || below.material === null || over === null) {
    return say(ruleOf("compatibility", "not_checked", "material_unknown", TABLE));
  }
  const under = below.material;
  const state = stateOf(below, Math.max(now_at, below.opens_at ?? now_at));
  const answer = goesOver(over, under, state);
  const { verdict, mends, or_else, reasons } = answer;
  const tacked = facts.tack && isTheMend(over, under, answer);
  const onlyWait = mends.length === 1 && mends[0] === "wait";
  const outcome = onlyWait ? "wait" : verdict === "yes" || tacked ? "ok" : "no";
  const params = { over, under, state, verdict };
  const { code = "", source = "" } = tacked
    ? { code: "tack_coat", source: TACK_SOURCE }
    : (reasons[0] ?? {});
  const below_as = under === "epoxy_paint" ? "epoxy_paint" : "epoxy_resin";
  const rule = ruleOf("compatibility", outcome, code, source, params);
  return say(rule, null, stepsOf(mends, below_as), stepsOf(or_else, below_as));
}

function readyAt(
  facts: CoatFacts,
  told: readonly Told[],
  air: AirRules,
  nowS: number,
): number | null {
  if (told.some((one) => one.rule.outcome === "unknown")) return null;
  const waits = told.filter((one) => one.rule.outcome === "wait");
  if (waits.some((one) => one.wait_at === null && !AIR_RULES.includes(one.rule.rule))) return null;
  const instants = waits.map((one) => one.wait_at).filter((at) => at !== null);
  const firstS = Math.max(nowS, ...instants.map(secondsOf));
  const closesS = closesSOf(facts);
  for (const atS of [firstS, ...looks(nowS, firstS)]) {
    if (atS >= closesS) return null;
    if (atS > nowS && air.holds(atS)) return instantOf(atS);
  }
  return null;
}

function goodUntil(facts: CoatFacts, air: AirRules, nowS: number): number | null {
  const closesS = closesSOf(facts);
  let goodS = nowS;
  for (const atS of looks(nowS, nowS)) {
    if (atS >= closesS) break;
    if (!air.holds(atS)) return instantOf(goodS);
    goodS = atS;
  }
  if (closesS === Number.POSITIVE_INFINITY) return null;
  return instantOf(Math.min(closesS, nowS + AHEAD_S));
}

function closesSOf(facts: CoatFacts): number {
  const { below, now_at } = facts;
  if (below === null || below.closes_at === null || prepared(below)) {
    return Number.POSITIVE_INFINITY;
  }
  if (below.closes_at <= now_at && isTackOver(below, facts)) return Number.POSITIVE_INFINITY;
  return secondsOf(below.closes_at);
}

function prepared(below: Below): boolean {
  return below.state !== null && PREPARED.includes(below.state);
}

function looks(nowS: number, afterS: number): number[] {
  const found: number[] = [];
  for (let k = 1; k <= AHEAD_S / LOOK_S; k += 1) {
    if (nowS + k * LOOK_S > afterS) found.push(nowS + k * LOOK_S);
  }
  return found;
}
