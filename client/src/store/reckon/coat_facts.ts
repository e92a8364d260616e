/**
 * What is true of a step that is to lay a coat: the twin of the server's `reckoning.coat_facts`.
 *
 * - What lies below is the coat that began last among the steps before this one, else the last coat on the same zone or
 *   on one around it, else the zone's ground, which has no window.
 * - Sanding, grinding, cleaning and trying a patch that were finished since that coat ended have changed its surface; of
 *   a ground each such step before this one counts.
 * - Owed is each step right before this one that is not finished, unless it is only curing.
 * - A product whose profile cannot be read has no limits, no drying time and no known material.
 */
import { materialOf } from "../../clocks/compatibility.ts";
import type { Material } from "../../clocks/compatibility_table.ts";
import { clocksOfGroup } from "../../clocks/cure.ts";
import { HORIZON_S } from "../../clocks/dose.ts";
import { TradeError } from "../../clocks/errors.ts";
import { afterStep, type Surface } from "../../clocks/job_order.ts";
import { laminatingAir } from "../../clocks/laminating_air.ts";
import type { Below, CoatFacts, Owed } from "../../clocks/readiness.ts";
import { latestAir } from "../../clocks/readiness_air.ts";
import { LAMINATES } from "../../clocks/readiness_laminating.ts";
import type { StepState as Story } from "../../clocks/steps.ts";
import { trackOf } from "../../clocks/temperature.ts";
import type { Clock, Limits, Profile, Stage, Track } from "../../clocks/types.ts";
import { readProfile } from "../profile.ts";
import type { ItemRow, Json, View } from "../types.ts";
import { groundOf, zonesAround } from "./ground.ts";
import { ClockBook, curveOf, readingOf, type Source } from "./sources.ts";
import { type Link, linkOf } from "./steps.ts";

const PREPARES = new Set(["sand", "grind", "clean", "inspect"]);
const DONE = new Set(["finished", "signed_off"]);
const NO_LIMITS: Limits = {
  ...{ temp_min_c: null, temp_max_c: null },
  ...{ rh_max_pct: null, dew_margin_min_c: null },
};

export interface CoatQuestion {
  facts: CoatFacts;
  track: Track;
  below_step_id: string | null;
}

const NO_WINDOW: Omit<Below, "material" | "state"> = {
  ...{ ended: true, touch_dry_at: null, opens_at: null, closes_at: null },
  sand_minutes_per_m2: null,
};

type Clocks = ReadonlyMap<Stage, Clock>;

/** Gathers the facts of one step. */
export class CoatFactsOf {
  private readonly steps: Map<string, ItemRow>;
  private readonly links: Link[];
  private readonly coats: Source[];

  constructor(
    private readonly rows: View,
    private readonly stories: ReadonlyMap<string, Story>,
    private readonly now_at: number,
    book = new ClockBook(),
  ) {
    this.steps = new Map(rows.items("step").map((row) => [row.id, row]));
    this.links = rows.items("link").map(linkOf);
    this.coats = book.sources(rows, now_at).filter((one) => !one.is_pot && one.start_at <= now_at);
  }

  question(id: string): CoatQuestion | null {
    const step = this.steps.get(id);
    const refit = this.rows.items("refit")[0];
    if (!step || !refit) return null;
    const product = this.rows.item("product", (step.fields.product_id as string | null) ?? "");
    const profile = profileOf(product?.fields.profile);
    const zone = this.rows.item("zone", this.zoneOf(id) ?? "");
    const below_step_id = this.belowStep(id);
    const known = this.rows
      .trees("reading")
      .map((one) => readingOf(one.record))
      .filter((one) => one.at <= this.now_at);
    const labour_h = (step.fields.labour_h as number | null | undefined) ?? 0;
    const facts: CoatFacts = {
      now_at: this.now_at,
      over: materialIn(profile),
      limits: profile?.limits ?? NO_LIMITS,
      touch_dry: profile?.stages.touch_dry ?? [],
      air: latestAir(known),
      below: below_step_id ? this.below(below_step_id, id) : this.ground(id),
      owed: this.owed(id),
      held_reason: (step.fields.held as string | null | undefined) ?? null,
      tack: step.fields.tack === true,
      coat_s: (3600 * labour_h) / ((step.fields.crew_size as number | null | undefined) || 1),
      area_m2: (zone?.fields.area_m2 as number | null | undefined) ?? null,
      laminating: LAMINATES.has(String(step.fields.kind))
        ? laminatingAir(known, this.now_at)
        : null,
    };
    const curve = curveOf(this.rows, refit, this.now_at);
    return { facts, track: trackOf(known, curve, this.now_at), below_step_id };
  }

  /** The kinds of the steps before this one that are not finished. */
  openBefore(id: string): Set<string> {
    const open = [...this.before(id)].filter((one) => !this.isDone(one));
    return new Set(open.map((one) => String(this.steps.get(one)?.fields.kind ?? "")));
  }

  /** Every step before this one, through any number of links. */
  private before(id: string): Set<string> {
    const found = new Set<string>();
    const ask = [id];
    for (let at = ask.pop(); at !== undefined; at = ask.pop())
      for (const { after_id } of this.linksTo(at))
        if (!found.has(after_id)) {
          found.add(after_id);
          ask.push(after_id);
        }
    found.delete(id);
    return found;
  }

  private linksTo(id: string): Link[] {
    return this.links.filter((one) => one.step_id === id && this.steps.has(one.after_id));
  }

  private belowStep(id: string): string | null {
    const before = this.before(id);
    const coats = this.coats.filter((one) => before.has(one.step_id ?? ""));
    if (coats.length > 0) return lastOf(coats)?.step_id ?? null;
    const zones = new Set(zonesAround(this.rows, this.zoneOf(id)));
    const laid = this.coats.filter(
      (one) => one.step_id !== id && zones.has(one.zone_id ?? this.zoneOf(one.step_id ?? "") ?? ""),
    );
    return lastOf(laid)?.step_id ?? null;
  }

  private zoneOf(id: string): string | null {
    const job_id = this.rows.item("step", id)?.fields.job_id as string | undefined;
    return (
      (this.rows.item("job", job_id ?? "")?.fields.zone_id as string | null | undefined) ?? null
    );
  }

  private below(step_id: string, id: string): Below {
    const coats = this.coats.filter((one) => one.step_id === step_id);
    const last = lastOf(coats);
    const record = last && this.rows.record("application", last.record_id);
    const profile = profileOf(record?.body.profile);
    const group = clocksOfGroup(
      step_id,
      coats.map((one) => one.clocks),
    );
    const clocks: Clocks = new Map(group.map((one) => [one.stage, one]));
    const closes_at = clocks.get("recoat_closes")?.last_start_at ?? null;
    const ended = coats.every((one) => !one.open);
    const surface = ended ? this.surface(profile, coats, id, closes_at) : null;
    return {
      material: surface ? surface.under : materialIn(profile),
      state: surface?.state ?? null,
      ended,
      touch_dry_at: this.reached(clocks, "touch_dry"),
      opens_at: this.reached(clocks, "recoat_opens"),
      closes_at,
      sand_minutes_per_m2: profile?.sanding_after_missed_minutes_per_m2 ?? null,
    };
  }

  /** The zone's ground as the finished steps before this one have left it. */
  private ground(id: string): Below | null {
    const ground = groundOf(this.rows, this.zoneOf(id));
    if (ground === null) return null;
    const done = this.done(this.before(id), Number.NEGATIVE_INFINITY);
    const surface = done.reduce((at_hand, { kind }) => afterStep(at_hand, kind), ground);
    return { ...NO_WINDOW, material: surface.under, state: surface.state };
  }

  /** When a stage is reached: far off where the clock never gets there. */
  private reached(clocks: Clocks, stage: Stage): number | null {
    const clock = clocks.get(stage);
    return clock ? (clock.governing_at ?? this.now_at + HORIZON_S * 1000) : null;
  }

  /** The surface when something was done to it since; null when nothing was. */
  private surface(
    profile: Profile | null,
    coats: readonly Source[],
    id: string,
    closes_at: number | null,
  ): Surface | null {
    const material = materialIn(profile);
    const ends = coats.flatMap((one) => one.end_at ?? []);
    if (material === null || ends.length === 0) return null;
    const first: Surface = { under: material, state: "tacky", beneath: [], fresh: true };
    const surface = this.done(this.before(id), Math.max(...ends)).reduce(
      (at_hand, { at, kind }) => afterStep(at_hand, kind, closes_at === null || at < closes_at),
      first,
    );
    return JSON.stringify(surface) === JSON.stringify(first) ? null : surface;
  }

  /** When which preparation was finished since an instant. */
  private done(ids: ReadonlySet<string>, since: number): { at: number; kind: string }[] {
    const kindOf = (id: string) => String(this.steps.get(id)?.fields.kind ?? "");
    const last = new Map<string, number>();
    for (const { record } of this.rows.trees("mark")) {
      const id = String(record.body.step_id);
      const at = Date.parse(String(record.body.marked_at));
      const counts = ids.has(id) && PREPARES.has(kindOf(id)) && this.isDone(id);
      if (counts && DONE.has(String(record.body.mark)))
        last.set(id, Math.max(at, last.get(id) ?? at));
    }
    return [...last]
      .filter(([, at]) => since <= at && at <= this.now_at)
      .map(([id, at]) => ({ at, kind: kindOf(id) }))
      .sort((a, b) => a.at - b.at || (a.kind < b.kind ? -1 : 1));
  }

  private isDone(id: string): boolean {
    return DONE.has(this.stories.get(id)?.state ?? "");
  }

  private owed(id: string): Owed[] {
    const links = this.linksTo(id).sort((a, b) => (a.after_id < b.after_id ? -1 : 1));
    return links.flatMap(({ after_id: step_id, by_cure, min_gap_s }) => {
      const kind = String(this.steps.get(step_id)?.fields.kind ?? "");
      const { state, until_at } = this.stories.get(step_id) ?? { state: "waiting", until_at: null };
      if (!DONE.has(state) && state !== "curing") return [{ step_id, kind, until_at: null }];
      if (state === "curing" && !by_cure && until_at !== null) return [{ step_id, kind, until_at }];
      if (min_gap_s <= 0) return [];
      const ended_at = this.endedAt(step_id);
      return [{ step_id, kind, until_at: ended_at === null ? null : ended_at + min_gap_s * 1000 }];
    });
  }

  private endedAt(id: string): number | null {
    const ends = this.coats.filter((one) => one.step_id === id).flatMap((one) => one.end_at ?? []);
    if (ends.length > 0) return Math.max(...ends);
    const marks = this.rows
      .trees("mark")
      .map(({ record }) => record.body)
      .filter((body) => body.step_id === id && body.mark === "finished")
      .map((body) => Date.parse(String(body.marked_at)));
    return marks.length > 0 ? Math.max(...marks) : null;
  }
}

function lastOf(coats: readonly Source[]): Source | undefined {
  const later = (a: Source, b: Source) =>
    b.start_at > a.start_at || (b.start_at === a.start_at && b.id > a.id) ? b : a;
  return coats.length > 0 ? coats.reduce(later) : undefined;
}

function profileOf(data: Json | undefined): Profile | null {
  try {
    return readProfile(data);
  } catch (error) {
    if (error instanceof TradeError) return null;
    throw error;
  }
}

const materialIn = (profile: Profile | null): Material | null =>
  profile && materialOf(profile.product_class, profile.compatibility);
