/**
 * The cure clock: the twin of the server's `trade.cure`, which tells its theory and rules.
 *
 * Rules
 * - What closes is governed by the fast edge, what opens by the slow one, and so is the basis.
 * - A coat without an end counts as ended at its start, and says `coat_not_ended`.
 * - A clock is stale when its governing instant leans on the forecast and the last reading is too
 *   old, or nothing was measured at all.
 * - Several applications that are one coat: opens with the latest, closes with the earliest.
 */

import { type EdgeAnswer, type Edges, edgesOf, NEVER_S, pathOf, stageKnown } from "./edges.ts";
import { TradeError } from "./errors.ts";
import { instantOf, secondsOf } from "./instants.ts";
import { nth } from "./lists.ts";
import { atLeast } from "./temperature.ts";
import {
  type Band,
  type Clock,
  COAT_STAGES,
  type Coat,
  KIND_OF,
  POT_STAGES,
  type Pot,
  STAGES,
  type Stage,
  type Track,
  USUAL_BAND,
  worstBasis,
} from "./types.ts";

export const STALE_AFTER_S = 6 * 3600;

interface Lateness {
  readonly why: string | null;
  readonly measured_until_s: number;
}

/** Give the clocks of a coat, one for each stage that its profile knows. */
export function coatClock(
  coat: Coat,
  track: Track,
  now_at: number,
  band: Band = USUAL_BAND,
  stale_after_s: number = STALE_AFTER_S,
): Clock[] {
  const startS = secondsOf(coat.start_at);
  const endS = coat.end_at === null ? startS : secondsOf(coat.end_at);
  if (endS < startS) throw new TradeError("end_at", "a coat cannot end before it starts");
  const pathS = pathOf(startS, endS);
  const notes = coat.end_at === null ? ["coat_not_ended"] : [];
  const late = lateness(track, now_at, stale_after_s);
  return COAT_STAGES.filter((stage) => stageKnown(coat.profile, stage)).map((stage) =>
    clockOf(coat.id, stage, edgesOf(coat.profile, stage, track, pathS, band), notes, late),
  );
}

/** Give the clocks of a pot: its working life and its gel, where the profile knows them. */
export function potClock(
  pot: Pot,
  track: Track,
  now_at: number,
  band: Band = USUAL_BAND,
  stale_after_s: number = STALE_AFTER_S,
): Clock[] {
  const pathS = [secondsOf(pot.stirred_at)];
  const notes = [pot.temp_c === null ? "air_for_pot" : "pot_temperature"];
  const referenceKg = pot.profile.mix.pot_reference_kg;
  if (pot.mass_kg !== null && referenceKg !== null && pot.mass_kg > referenceKg) {
    notes.push("big_pot");
  }
  const warm = pot.temp_c === null ? track : atLeast(track, pot.temp_c);
  const late = lateness(track, now_at, stale_after_s);
  return POT_STAGES.filter((stage) => stageKnown(pot.profile, stage)).map((stage) =>
    clockOf(pot.id, stage, edgesOf(pot.profile, stage, warm, pathS, band), notes, late),
  );
}

/** Give the clocks of several applications that are one coat (or several records of one). */
export function clocksOfGroup(source_id: string, members: readonly (readonly Clock[])[]): Clock[] {
  const found: Clock[] = [];
  for (const stage of STAGES) {
    const clocks = members.flat().filter((clock) => clock.stage === stage);
    if (clocks.length > 0) found.push(merged(source_id, clocks));
  }
  return found;
}

function lateness(track: Track, nowAt: number, staleAfterS: number): Lateness {
  const lastS = track.last_reading_at_s;
  if (lastS === null) return { why: "no_reading", measured_until_s: Number.NEGATIVE_INFINITY };
  const old = secondsOf(nowAt) - lastS > staleAfterS;
  return { why: old ? "stale_reading" : null, measured_until_s: lastS };
}

function clockOf(
  source_id: string,
  stage: Stage,
  edges: Edges,
  notes: readonly string[],
  late: Lateness,
): Clock {
  const kind = KIND_OF[stage];
  const governing: EdgeAnswer = kind === "closes" ? edges.fast : edges.slow;
  const stale = late.why !== null && governing.at_s > late.measured_until_s;
  const reasons = new Set([...notes, ...governing.reasons]);
  if (stale && late.why !== null) reasons.add(late.why);
  if (governing.at_s === NEVER_S) reasons.add("not_within_horizon");
  if (governing.basis !== "data_sheet") reasons.add(governing.basis);
  const bounded = stage === "recoat_closes" || stage === "immerse_closes";
  return {
    source_id,
    stage,
    kind,
    at: instantOrNull(edges.as_it_stands.at_s),
    fast_at: instantOrNull(edges.fast.at_s),
    slow_at: instantOrNull(edges.slow.at_s),
    governing_at: instantOrNull(governing.at_s),
    last_start_at: bounded ? instantOrNull(edges.fast.last_start_s) : null,
    basis: governing.basis,
    stale,
    reasons: [...reasons].sort(),
  };
}

function instantOrNull(atS: number): number | null {
  return atS === NEVER_S ? null : instantOf(atS);
}

function merged(source_id: string, clocks: readonly Clock[]): Clock {
  const { stage, kind } = nth(clocks, 0);
  const pick = kind === "opens" ? latest : earliest;
  return {
    source_id,
    stage,
    kind,
    at: pick(clocks.map((clock) => clock.at)),
    fast_at: pick(clocks.map((clock) => clock.fast_at)),
    slow_at: pick(clocks.map((clock) => clock.slow_at)),
    governing_at: pick(clocks.map((clock) => clock.governing_at)),
    last_start_at: earliest(clocks.map((clock) => clock.last_start_at)),
    basis: worstBasis(clocks.map((clock) => clock.basis)),
    stale: clocks.some((clock) => clock.stale),
    reasons: [...new Set(clocks.flatMap((clock) => clock.reasons))].sort(),
  };
}

function latest(instants: readonly (number | null)[]): number | null {
  const known = instants.filter((at) => at !== null);
  return known.length === instants.length ? Math.max(...known) : null;
}

function earliest(instants: readonly (number | null)[]): number | null {
  const known = instants.filter((at) => at !== null);
  return known.length > 0 ? Math.min(...known) : null;
}
