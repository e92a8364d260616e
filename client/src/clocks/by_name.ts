/**
 * The sums called by name with plain JSON: what the shared vectors need.
 *
 * In: `{fn, input}`, instants as ISO text. Out: `{output}`, instants as ISO text again, or
 * `{error: {field}}` for what the sums refuse. Fields that may be null may be left out.
 */
import file from "../../../fixtures/trade/sums.json" with { type: "json" };
import { dewMarginC, dewPointC } from "./air.ts";
import { stageTime } from "./arrhenius.ts";
import { calculate, isYardSum, type SumsFile } from "./by_name_yard.ts";
import { clocksOfGroup, coatClock, potClock } from "./cure.ts";
import { reach } from "./dose.ts";
import { TradeError } from "./errors.ts";
import { isoOf, readInstant } from "./instants.ts";
import { catalystKg, hardenerKg, hardenerL, partsByMass, partsByVolume } from "./mix.ts";
import { stepState } from "./steps.ts";
import { steadyTrack, trackOf } from "./temperature.ts";
import type { Mix, Reading, Track } from "./types.ts";
import { warningsOf, whatMoved } from "./warnings.ts";

// biome-ignore lint/suspicious/noExplicitAny: the lines come from outside and are read field by field
type Input = any;

const NO_MIX: Mix = {
  by_mass: null,
  by_volume: null,
  catalyst: null,
  induction_minutes: null,
  pot_reference_kg: null,
};
const INSTANT = /(^|_)at$|^useless_after$/;

function readings(input: Input): Reading[] {
  const empty = { air_c: null, surface_c: null, rh_pct: null };
  return (input.readings ?? []).map((reading: Input) => ({ ...empty, ...reading }));
}

function track(input: Input): Track {
  if (input.steady_c !== undefined) return steadyTrack(input.steady_c, input.track_from_at);
  return trackOf(readings(input), input.curve, input.track_from_at);
}

function mix(input: Input): Mix {
  return { ...NO_MIX, ...input.mix };
}

function profile(given: Input): Input {
  return { closes_by_hottest_hour: [], ...given, mix: { ...NO_MIX, ...given.mix } };
}

function coat(given: Input): Input {
  return { end_at: null, ...given, profile: profile(given.profile) };
}

function pot(given: Input): Input {
  return { temp_c: null, mass_kg: null, ...given, profile: profile(given.profile) };
}

function facts(given: Input): Input {
  const link = {
    finished_at: null,
    min_gap_s: 0,
    max_gap_s: null,
    opens_at: null,
    closes_at: null,
  };
  const before = (given.before ?? []).map((one: Input) => ({ ...link, ...one }));
  const empty = { held_reason: null, marks: [], has_open_application: false, cures_until_at: null };
  return { ...empty, ...given, before };
}

const FUNCTIONS: Record<string, (input: Input) => unknown> = {
  dew_point_c: (input) => dewPointC(input.air_c, input.rh_pct),
  dew_margin_c: (input) => dewMarginC(input.surface_c, input.air_c, input.rh_pct),
  stage_time: (input) => stageTime(input.points, input.temp_c),
  track_of: track,
  reach: (input) =>
    reach(
      input.points,
      track(input),
      input.start_at / 1000,
      input.edge,
      input.band,
      input.horizon_s,
    ),
  coat_clock: (input) =>
    coatClock(coat(input.coat), track(input), input.now_at, input.band, input.stale_after_s),
  pot_clock: (input) =>
    potClock(pot(input.pot), track(input), input.now_at, input.band, input.stale_after_s),
  clocks_of_group: (input) => clocksOfGroup(input.source_id, input.members),
  warnings_of: (input) => warningsOf(input.clocks, input.leads),
  what_moved: (input) => whatMoved(input.before, input.after, input.more_than_s),
  step_state: (input) => stepState(facts(input)),
  hardener_kg: (input) => hardenerKg(mix(input), input.base_kg),
  hardener_l: (input) => hardenerL(mix(input), input.base_l),
  parts_by_mass: (input) => partsByMass(mix(input), input.total_kg),
  parts_by_volume: (input) => partsByVolume(mix(input), input.total_l),
  catalyst_kg: (input) => catalystKg(mix(input), input.resin_kg, input.catalyst_pct),
};

function read(name: string, value: Input): Input {
  return INSTANT.test(name) && typeof value === "string" ? readInstant(value, name) : value;
}

function write(name: string, value: Input): Input {
  return INSTANT.test(name) && typeof value === "number" ? isoOf(value) : value;
}

/** Call a sum by its name; what it refuses comes back as an error with its field. */
export function answer({ fn, input }: { fn: string; input: Input }): object {
  if (isYardSum(fn)) {
    return said(() =>
      JSON.parse(JSON.stringify(calculate(file as unknown as SumsFile, fn, input)), write),
    );
  }
  const called = FUNCTIONS[fn];
  if (called === undefined) throw new Error(`no sum is named ${fn}`);
  return said(() =>
    JSON.parse(JSON.stringify(called(JSON.parse(JSON.stringify(input), read))), write),
  );
}

function said(work: () => unknown): object {
  try {
    return { output: work() };
  } catch (error) {
    if (!(error instanceof TradeError)) throw error;
    return { error: { field: error.field } };
  }
}
