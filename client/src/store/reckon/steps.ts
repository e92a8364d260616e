/** The states of the steps from marks, applications, links and clocks, by the rules of the server's reckoning. */
import { clocksOfGroup } from "../../clocks/cure.ts";
import {
  type LinkFacts,
  type Mark,
  type MarkKind,
  type StepState as Story,
  stepState,
} from "../../clocks/steps.ts";
import type { Clock, Stage } from "../../clocks/types.ts";
import type { ItemRow, View } from "../types.ts";
import type { Source } from "./sources.ts";

const SANDING = new Set(["sand", "grind"]);
const CURE_ENDS: readonly Stage[] = ["immerse_opens", "sandable", "touch_dry", "recoat_opens"];

export interface Link {
  step_id: string;
  after_id: string;
  min_gap_s: number;
  max_gap_s: number | null;
  by_cure: boolean;
}

export function linkOf({ fields }: ItemRow): Link {
  return {
    step_id: fields.step_id as string,
    after_id: fields.after_id as string,
    min_gap_s: (fields.min_gap_s as number | null | undefined) || 0,
    max_gap_s: (fields.max_gap_s as number | null | undefined) ?? null,
    by_cure: fields.by_cure === true,
  };
}

/** The stages between which a step of this kind follows a coat by its cure. */
export function windowStages(kind: string): [opens: Stage, closes: Stage | null] {
  if (SANDING.has(kind)) return ["sandable", null];
  if (kind === "wait") return ["immerse_opens", "immerse_closes"];
  return ["recoat_opens", "recoat_closes"];
}

function grouped<T>(rows: readonly T[], key: (row: T) => string | null): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const row of rows) {
    const name = key(row);
    if (name === null) continue;
    const known = groups.get(name);
    if (known) known.push(row);
    else groups.set(name, [row]);
  }
  return groups;
}

/** The coats on each step. */
export const coatsByStep = (sources: readonly Source[]): Map<string, Source[]> =>
  grouped(sources, (source) => (source.is_pot ? null : source.step_id));

/** Works out the state of every step, those before it first; steps in a circle all wait. */
export class StepStories {
  private readonly steps: Map<string, ItemRow>;
  private readonly marks: Map<string, Mark[]>;
  private readonly before: Map<string, Link[]>;
  private readonly following: Map<string, Link[]>;
  private readonly done = new Map<string, Story>();
  private readonly clocksOf = new Map<string, ReadonlyMap<Stage, Clock>>();

  constructor(
    rows: View,
    private readonly coats: ReadonlyMap<string, Source[]>,
    private readonly now_at: number,
  ) {
    this.steps = new Map(rows.items("step").map((row) => [row.id, row]));
    const marks = rows.trees("mark").map(({ record: { body } }) => ({
      step_id: body.step_id as string,
      kind: body.mark as MarkKind,
      at: Date.parse(body.marked_at as string),
    }));
    this.marks = grouped(marks, (mark) => mark.step_id);
    const links = rows
      .items("link")
      .map(linkOf)
      .filter((link) => this.steps.has(link.step_id) && this.steps.has(link.after_id));
    this.before = grouped(links, (link) => link.step_id);
    this.following = grouped(links, (link) => link.after_id);
  }

  all(): Map<string, Story> {
    for (const id of this.steps.keys()) this.story(id, new Set());
    return this.done;
  }

  private story(id: string, under_way: ReadonlySet<string>): Story {
    const known = this.done.get(id);
    if (known) return known;
    const links = [...(this.before.get(id) ?? [])].sort((a, b) =>
      a.after_id < b.after_id ? -1 : 1,
    );
    const within = new Set([...under_way, id]);
    const made = stepState({
      id,
      now_at: this.now_at,
      held_reason: (this.steps.get(id)?.fields.held as string | null | undefined) ?? null,
      marks: [...(this.marks.get(id) ?? []), ...this.begun(id)],
      has_open_application: (this.coats.get(id) ?? []).some((source) => source.open),
      cures_until_at: this.curesUntil(id),
      before: links.map((link) => this.facts(link, within)),
    });
    this.done.set(id, made);
    return made;
  }

  /** A start for each coat: who lays paint has begun the step, whether or not it was said. */
  private begun(id: string): Mark[] {
    return (this.coats.get(id) ?? []).map((source) => ({ kind: "started", at: source.start_at }));
  }

  private facts(link: Link, under_way: ReadonlySet<string>): LinkFacts {
    const { after_id, min_gap_s, max_gap_s } = link;
    const kind = this.steps.get(link.step_id)?.fields.kind as string;
    const [opens, closes] = link.by_cure ? windowStages(kind) : [null, null];
    const clocks = this.clocks(after_id);
    const circle = under_way.has(after_id);
    return {
      step_id: after_id,
      state: circle ? "waiting" : this.story(after_id, under_way).state,
      finished_at: this.finishedAt(after_id),
      min_gap_s,
      max_gap_s,
      opens_at: (opens && clocks.get(opens)?.governing_at) ?? null,
      closes_at: (closes && clocks.get(closes)?.last_start_at) ?? null,
    };
  }

  private clocks(id: string): ReadonlyMap<Stage, Clock> {
    const known = this.clocksOf.get(id);
    if (known) return known;
    const made = this.group(id);
    this.clocksOf.set(id, made);
    return made;
  }

  private group(id: string): Map<Stage, Clock> {
    const sources = this.coats.get(id) ?? [];
    const group = clocksOfGroup(
      id,
      sources.map((source) => source.clocks),
    );
    return new Map(group.map((clock) => [clock.stage, clock]));
  }

  private curesUntil(id: string): number | null {
    const clocks = this.clocks(id);
    const following = (this.following.get(id) ?? []).filter((link) => link.by_cure);
    let stages = following.map(
      (link) => windowStages(this.steps.get(link.step_id)?.fields.kind as string)[0],
    );
    if (stages.length === 0) stages = CURE_ENDS.filter((stage) => clocks.has(stage)).slice(0, 1);
    const ends = stages.map((stage) => clocks.get(stage)?.governing_at ?? null);
    return least(ends);
  }

  private finishedAt(id: string): number | null {
    const ends = (this.coats.get(id) ?? []).map((source) => source.end_at);
    const marks = (this.marks.get(id) ?? []).filter((mark) => mark.kind === "finished");
    return greatest(ends) ?? greatest(marks.map((mark) => mark.at));
  }
}

const known = (instants: readonly (number | null)[]): number[] =>
  instants.filter((at) => at !== null);

function least(instants: readonly (number | null)[]): number | null {
  const all = known(instants);
  return all.length > 0 ? Math.min(...all) : null;
}

function greatest(instants: readonly (number | null)[]): number | null {
  const all = known(instants);
  return all.length > 0 ? Math.max(...all) : null;
}
