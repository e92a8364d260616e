/**
 * Who is to be warned of what, when and how, by the rules of the server's reckoning (`personal_warnings`,
 * `coat_warnings`).
 *
 * - A coat's warnings go to who logged it and to who has the steps that wait for it (its own step, where none do); a
 *   pot's to who mixed it; both to who asked for them. What a person switched off is not among them.
 * - A recoat warning is wanted while a step that follows by cure has not begun, and where nothing follows at all; that a
 *   window was missed only where something waits for it. `sandable` is wanted where sanding waits for it; the water's
 *   windows where a step waits for the water, or on the last coat.
 * - What falls into a person's quiet hours and can wait is due when they end.
 */
import { isoOf } from "../../clocks/instants.ts";
import type { StepState as Story } from "../../clocks/steps.ts";
import { MANNERS, type WarningKind } from "../../clocks/warning_kinds.ts";
import { type Leads, type Warning, warningsOf } from "../../clocks/warnings.ts";
import type { ItemRow, View } from "../types.ts";
import { heldUntil } from "./quiet.ts";
import { type CoatOf, launchWarnings, staleWarning } from "./refit_warnings.ts";
import { type Ring, RingRules } from "./rules.ts";
import type { Source } from "./sources.ts";
import { BEGUN, coatS, StepWarnings } from "./step_warnings.ts";
import { type Link, linkOf, windowStages } from "./steps.ts";
import { Weather } from "./weather.ts";

export interface PersonalWarning {
  member_id: string;
  /** The coat or pot that it is about, if it is about one. */
  source: Source | null;
  warning: Warning;
  ring: Ring;
  step_id: string | null;
}

const SANDING = new Set(["sand", "grind"]);

/** A coat or pot with those whom it concerns, and the steps by which they may have said how it rings. */
interface Audience {
  source: Source;
  members: ItemRow[];
  steps: string[];
  /** The steps that wait for it. */
  waiting: ItemRow[];
  followed: boolean;
}

export function personalWarnings(
  rows: View,
  sources: readonly Source[],
  coats: ReadonlyMap<string, Source[]>,
  stories: ReadonlyMap<string, Story>,
  now_at: number,
): PersonalWarning[] {
  return new PersonalWarnings(rows, coats, stories, now_at).all(sources);
}

class PersonalWarnings {
  private readonly rules: RingRules;
  private readonly weather: Weather;
  private readonly steps: StepWarnings;
  private readonly after = new Map<string, Link[]>();

  constructor(
    private readonly rows: View,
    private readonly coats: ReadonlyMap<string, Source[]>,
    private readonly stories: ReadonlyMap<string, Story>,
    now_at: number,
  ) {
    this.rules = new RingRules(rows);
    this.weather = new Weather(rows, now_at);
    this.steps = new StepWarnings(rows, stories, this.rules, this.weather);
    for (const link of rows.items("link").map(linkOf)) {
      if (!link.by_cure || !stories.has(link.step_id)) continue;
      this.after.set(link.after_id, [...(this.after.get(link.after_id) ?? []), link]);
    }
  }

  all(sources: readonly Source[]): PersonalWarning[] {
    const found: PersonalWarning[] = [];
    const coatsOf = new Map<string, CoatOf[]>();
    for (const source of sources) {
      const audience = this.audience(source);
      for (const member of audience.members) {
        const warnings = this.ofSource(audience, member);
        const { id } = member;
        if (!source.is_pot)
          coatsOf.set(id, [...(coatsOf.get(id) ?? []), [source.start_at, warnings]]);
        for (const one of [...warnings, ...this.edge(audience, member)])
          found.push(...this.for(member, one, audience.steps, source, source.step_id));
      }
    }
    for (const planned of this.steps.planned) {
      const { id } = planned.step;
      for (const member of this.steps.members(planned.step))
        for (const one of this.steps.of(planned, member))
          found.push(...this.for(member, one, [id], null, id));
    }
    return [...found, ...this.ofRefit(coatsOf)];
  }

  private ofRefit(coatsOf: ReadonlyMap<string, CoatOf[]>): PersonalWarning[] {
    const refit = this.rows.items("refit")[0];
    if (!refit) return [];
    const launch = launchWarnings(refit);
    return this.rows.items("member").flatMap((member) => {
      const stale = staleWarning(refit, this.weather.last_at, coatsOf.get(member.id) ?? []);
      const warnings = stale ? [...launch, stale] : launch;
      return warnings.flatMap((one) => this.for(member, one, [], null, null));
    });
  }

  private for(
    member: ItemRow,
    warning: Warning,
    steps: readonly string[],
    source: Source | null,
    step_id: string | null,
  ): PersonalWarning[] {
    const ring = this.rules.ring(member, warning.kind, steps);
    if (ring.off) return [];
    return [{ member_id: member.id, source, warning: held(warning, ring), ring, step_id }];
  }

  private audience(source: Source): Audience {
    const after = this.after.get(source.step_id ?? "") ?? [];
    const waiting = after
      .filter(({ step_id }) => !this.begun(step_id, source))
      .flatMap(({ step_id }) => this.rows.item("step", step_id) ?? []);
    const own = source.step_id ? [source.step_id] : [];
    const steps = [...new Set([...waiting.map((step) => step.id), ...own])];
    const people = [...this.people(source, waiting), ...this.rules.followers(steps)];
    const members = [...new Set(people)]
      .flatMap((id) => this.rows.item("member", id) ?? [])
      .filter((member) => member.fields.gone !== true);
    return { source, members, steps, waiting, followed: after.length > 0 };
  }

  private begun(step_id: string, source: Source): boolean {
    if (BEGUN.has(this.stories.get(step_id)?.state ?? "")) return true;
    return (this.coats.get(step_id) ?? []).some((one) => one.start_at >= source.start_at);
  }

  private people(source: Source, waiting: readonly ItemRow[]): string[] {
    if (source.is_pot) return source.authors;
    const own = this.rows.item("step", source.step_id ?? "");
    const here = own && own.fields.gone !== true ? [own] : [];
    const steps = waiting.length > 0 ? waiting : here;
    return [
      ...source.authors,
      ...steps.flatMap((step) => this.rows.members(step, "assignees").sort()),
    ];
  }

  private ofSource(audience: Audience, member: ItemRow): Warning[] {
    const leads = this.leads(audience, member);
    return warningsOf(audience.source.clocks, leads).filter((one) => wanted(one.kind, audience));
  }

  /** A coat that is drying will lose its margin above the dew point. */
  private edge({ source, steps }: Audience, member: ItemRow): Warning[] {
    if (source.dew_margin_k === null) return [];
    const dry_at = source.clocks.find((one) => one.stage === "touch_dry")?.governing_at ?? null;
    const edge = this.weather.edge(source.dew_margin_k, source.start_at, dry_at);
    if (edge === null) return [];
    const ring = this.rules.ring(member, "weather_edge", steps);
    const ahead = 1000 * ((ring.lead_s ?? 0) + ring.walk_s);
    return [
      {
        ...{ id: `${source.id}.weather_edge`, kind: "weather_edge", source_id: source.id },
        due_at: Math.max(edge.known_at, edge.lost_at - ahead),
        useless_after: edge.dry_at,
        params: { lost_at: isoOf(edge.lost_at), dry_at: isoOf(edge.dry_at) },
      },
    ];
  }

  private leads(audience: Audience, member: ItemRow): Leads {
    const lead = (kind: WarningKind): number => {
      const ring = this.rules.ring(member, kind, audience.steps);
      return (ring.lead_s ?? 0) + ring.walk_s;
    };
    return {
      pot_life_ending_s: lead("pot_life_ending"),
      recoat_closing_s: lead("recoat_closing"),
      immerse_closing_s: lead("immerse_closing"),
      next_longer_s: nextLongerS(audience),
    };
  }
}

/** How much longer the next coat is planned to take than the one below took. */
function nextLongerS({ source, waiting }: Audience): number {
  if (source.end_at === null || source.open) return 0;
  const own_s = (source.end_at - source.start_at) / 1000;
  return Math.max(0, ...waiting.filter(goesOn).map((step) => coatS(step) - own_s));
}

const goesOn = ({ fields }: ItemRow): boolean =>
  windowStages(String(fields.kind))[0] === "recoat_opens";

/** Say whether a kind of warning helps anybody, given what still waits for this coat. */
function wanted(kind: string, { source, waiting, followed }: Audience): boolean {
  if (source.is_pot) return true;
  const coats = waiting.some(goesOn);
  const kinds = waiting.map(({ fields }) => String(fields.kind));
  if (kind === "sandable") return kinds.some((one) => SANDING.has(one));
  if (kind.startsWith("immerse")) return kinds.includes("wait") || !followed;
  if (kind === "recoat_missed") return coats;
  return coats || !followed;
}

/** A warning as a person's quiet hours let it ring. */
function held(warning: Warning, ring: Ring): Warning {
  const waits = MANNERS[warning.kind].waits || (warning.kind === "immerse_closing" && !ring.asked);
  if (!waits) return warning;
  const due_at = heldUntil(warning.due_at, ring.quiet_from, ring.quiet_to, ring.zone);
  if (due_at === warning.due_at) return warning;
  return { ...warning, due_at, params: { ...warning.params, held_from: isoOf(warning.due_at) } };
}
