/**
 * Sources of clocks: the coats and pots of a refit with the clocks that run from them, by the rules of the server's
 * reckoning, so that both give the same alarms the same ids.
 *
 * - An application is named by the first record of its tree; all versions that nothing replaces count, careful side first.
 * - Two applications that a person called one coat are one source, named by the earlier of the two.
 * - A profile that cannot be read runs no clock; the record stays.
 */
import { clocksOfGroup, coatClock, potClock, STALE_AFTER_S } from "../../clocks/cure.ts";
import { TradeError } from "../../clocks/errors.ts";
import { RULE_3K } from "../../clocks/surface.ts";
import { trackOf } from "../../clocks/temperature.ts";
import type { Clock, DailyCurve, Reading, Track } from "../../clocks/types.ts";
import { readProfile } from "../profile.ts";
import type { Standing } from "../standing.ts";
import type { ItemRow, RecordRow, View } from "../types.ts";
import { offsetS } from "../zones.ts";

export interface Source {
  id: string;
  record_id: string;
  step_id: string | null;
  product_id: string;
  zone_id: string | null;
  authors: string[];
  start_at: number;
  end_at: number | null;
  clocks: Clock[];
  open: boolean;
  is_pot: boolean;
  /** How far a wet coat must stay above the dew point; null for a pot. */
  dew_margin_k: number | null;
}

const at = (record: RecordRow, name: string): number => Date.parse(record.body[name] as string);
const text = (record: RecordRow, name: string): string | null =>
  (record.body[name] as string | undefined) ?? null;
const number = (record: RecordRow, name: string): number | null =>
  (record.body[name] as number | undefined) ?? null;

/** Remembers the clocks of each record as long as the temperatures stay what they were. */
export class ClockBook {
  private track: Track | null = null;
  private key = "";
  private clocks = new Map<string, Clock[] | null>();
  private kept: { rows: View; moment: string; sources: Source[] } | null = null;

  /** Give every coat and pot with its clocks; the same list as long as nothing has changed. */
  sources(rows: View, now_at: number): Source[] {
    const refit = rows.items("refit")[0];
    if (refit === undefined) return [];
    const curve = curveOf(rows, refit, now_at);
    const kept = this.kept;
    if (kept?.rows === rows && kept.moment === this.moment(curve, now_at)) return kept.sources;
    const sources = this.make(rows, curve, now_at);
    this.kept = { rows, moment: this.moment(curve, now_at), sources };
    return sources;
  }

  /** What of the time matters: the offset of the zone, and whether the last reading has grown old. */
  private moment(curve: DailyCurve, now_at: number): string {
    return JSON.stringify([curve, this.isOld(now_at)]);
  }

  /** The last reading has grown too old to lean on. */
  private isOld(now_at: number): boolean {
    const last_s = this.track?.last_reading_at_s ?? null;
    return last_s !== null && now_at / 1000 - last_s > STALE_AFTER_S;
  }

  private make(rows: View, curve: DailyCurve, now_at: number): Source[] {
    const coats = rows.trees("application");
    const pots = rows.trees("mix");
    const starts = [
      ...coats.flatMap((one) => one.leaves.map((leaf) => at(leaf, "start_at"))),
      ...pots.map((one) => at(one.record, "stirred_at")),
    ];
    if (starts.length === 0) return [];
    this.setTrack(rows, curve, Math.min(...starts));
    const found = [
      ...groupsOf(rows, coats).map((group) => this.coatSource(rows, group, now_at)),
      ...pots.map((one) => this.potSource(rows, one, now_at)),
    ];
    return found.filter((source) => source !== null);
  }

  private setTrack(rows: View, curve: DailyCurve, start_at: number): void {
    const readings = rows.trees("reading").map((one) => one.record);
    const key = JSON.stringify([curve, start_at, readings.map((row) => row.id)]);
    if (key === this.key) return;
    this.key = key;
    this.clocks.clear();
    this.track = trackOf(readings.map(readingOf), curve, start_at);
  }

  /** The clocks of one record; the hour matters only in whether the last reading has grown old. */
  private clocksOf(id: string, now_at: number, make: (track: Track) => Clock[]): Clock[] | null {
    const track = this.track as Track;
    const key = `${id} ${this.isOld(now_at)}`;
    const known = this.clocks.get(key);
    if (known !== undefined) return known;
    const made = unlessUnreadable(() => make(track));
    this.clocks.set(key, made);
    return made;
  }

  private coatSource(rows: View, group: Standing[], now_at: number): Source | null {
    const [first] = group as [Standing];
    const leaves = group.flatMap((one) => one.leaves);
    const each = leaves.map((leaf) =>
      this.clocksOf(leaf.id, now_at, (track) => coatClock(coatOf(leaf), track, now_at)),
    );
    const known = each.filter((clocks) => clocks !== null);
    if (known.length < each.length) return null;
    const ends = leaves.filter((leaf) => leaf.body.end_at).map((leaf) => at(leaf, "end_at"));
    return {
      id: first.root.id,
      record_id: first.record.id,
      step_id: text(first.record, "step_id"),
      product_id: text(first.record, "product_id") ?? "",
      zone_id: text(first.record, "zone_id"),
      authors: [...new Set(group.map((one) => rows.author(one.root.at)?.id ?? ""))],
      start_at: Math.min(...leaves.map((leaf) => at(leaf, "start_at"))),
      end_at: ends.length > 0 ? Math.max(...ends) : null,
      clocks: clocksOfGroup(first.root.id, known),
      open: group.some((one) => !one.record.body.end_at),
      is_pot: false,
      dew_margin_k: Math.max(...leaves.map((leaf) => marginIn(leaf))),
    };
  }

  private potSource(rows: View, one: Standing, now_at: number): Source | null {
    const { root, record } = one;
    const key = `${root.id} ${record.id}`;
    const clocks = this.clocksOf(key, now_at, (track) =>
      potClock(potOf(root.id, record), track, now_at),
    );
    if (clocks === null) return null;
    return {
      id: root.id,
      record_id: record.id,
      step_id: text(record, "step_id"),
      product_id: text(record, "product_id") ?? "",
      zone_id: null,
      authors: [rows.author(root.at)?.id ?? ""],
      start_at: at(record, "stirred_at"),
      end_at: null,
      clocks,
      open: false,
      is_pot: true,
      dew_margin_k: null,
    };
  }
}

function unlessUnreadable(make: () => Clock[]): Clock[] | null {
  try {
    return make();
  } catch (error) {
    if (error instanceof TradeError) return null;
    throw error;
  }
}

function coatOf(leaf: RecordRow) {
  const profile = readProfile(leaf.body.profile);
  const end_at = leaf.body.end_at ? at(leaf, "end_at") : null;
  return { id: leaf.id, profile, start_at: at(leaf, "start_at"), end_at };
}

const marginIn = (leaf: RecordRow): number =>
  readProfile(leaf.body.profile).limits.dew_margin_min_c ?? RULE_3K;

function potOf(id: string, record: RecordRow) {
  const profile = readProfile(record.body.profile);
  const grams = (number(record, "base_g") ?? 0) + (number(record, "hardener_g") ?? 0);
  const stirred_at = at(record, "stirred_at");
  return {
    id,
    profile,
    stirred_at,
    temp_c: number(record, "temp_c"),
    mass_kg: grams / 1000 || null,
  };
}

export function readingOf(record: RecordRow): Reading {
  return {
    at: at(record, "taken_at"),
    air_c: number(record, "air_c"),
    surface_c: number(record, "surface_c"),
    rh_pct: number(record, "rh_pct"),
  };
}

/** The refit's usual day, at its own time of day. */
export function curveOf(rows: View, refit: ItemRow, now_at: number): DailyCurve {
  return {
    min_c: rows.field<number>(refit, "curve_min_c"),
    max_c: rows.field<number>(refit, "curve_max_c"),
    hour_of_max: rows.field<number>(refit, "curve_hour_of_max"),
    utc_offset_s: offsetS(rows.field<string>(refit, "time_zone"), now_at),
  };
}

/** Group applications that a person called one coat; each group begins with the earliest. */
function groupsOf(rows: View, coats: readonly Standing[]): Standing[][] {
  const groups = new Map(coats.map((one) => [one.root.id, [one]]));
  for (const { record } of rows.trees("answer")) {
    if (record.body.answer !== "one_coat") continue;
    const [first, second] = ["first_id", "second_id"].map((name) =>
      groups.get(rows.record("application", text(record, name) ?? "")?.root_id ?? ""),
    );
    if (!first || !second || first === second) continue;
    const joined = [...first, ...second];
    for (const one of joined) groups.set(one.root.id, joined);
  }
  return [...new Set(groups.values())].map((group) =>
    [...group].sort((a, b) => (a.root.at < b.root.at ? -1 : 1)),
  );
}
