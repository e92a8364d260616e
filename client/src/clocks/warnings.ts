/**
 * Which warnings a set of clocks gives, and what a change moves: the twin of `trade.warnings`.
 *
 * Rules
 * - The id is `{source_id}.{kind}` on the server and on each phone; a moved clock keeps its id.
 * - What closes is warned of ahead, by a lead; what opens is told when it opens. recoat_closing is due
 *   a lead before the last start, but not before the coat opens, and never after the last start.
 * - A coat without an end gives no warning that it opened. A clock past the horizon gives none.
 */

import { isoOf } from "./instants.ts";
import type { Clock, Stage } from "./types.ts";
import type { WarningKind } from "./warning_kinds.ts";

export type { WarningKind };

const POT_OVER_USEFUL_S = 3600;
const MOVED_S = 60;

/** How long ahead a person wants to be warned of what closes, and how much longer the next coat takes than this one. */
export interface Leads {
  readonly pot_life_ending_s: number;
  readonly recoat_closing_s: number;
  readonly immerse_closing_s: number;
  readonly next_longer_s: number;
}

export const USUAL_LEADS: Leads = {
  pot_life_ending_s: 300,
  recoat_closing_s: 3600,
  immerse_closing_s: 7 * 86400,
  next_longer_s: 0,
};

export interface Warning {
  readonly id: string;
  readonly kind: WarningKind;
  readonly source_id: string;
  readonly due_at: number;
  readonly useless_after: number | null;
  readonly params: Readonly<Record<string, string | boolean>>;
}

export interface Moved {
  readonly id: string;
  readonly from_at: number;
  readonly to_at: number;
}

type Stages = ReadonlyMap<Stage, Clock>;
type Instants = Readonly<Record<string, number | null>>;

/** Give the warnings of a set of clocks, those of each source in the order of the server's WARNING_KINDS. */
export function warningsOf(clocks: readonly Clock[], own: Partial<Leads> = {}): Warning[] {
  const leads = { ...USUAL_LEADS, ...own };
  const bySource = new Map<string, Map<Stage, Clock>>();
  for (const clock of clocks) {
    const stages = bySource.get(clock.source_id) ?? new Map<Stage, Clock>();
    bySource.set(clock.source_id, stages.set(clock.stage, clock));
  }
  return [...bySource.values()].flatMap((stages) => [
    ...ofPot(stages, leads),
    ...ofGel(stages),
    ...ofRecoat(stages, leads),
    ...ofRest(stages, leads),
  ]);
}

/** Give the warnings that stand in both sets and whose due instant moved by more than a minute. */
export function whatMoved(
  before: readonly Warning[],
  after: readonly Warning[],
  more_than_s: number = MOVED_S,
): Moved[] {
  const old = new Map(before.map((warning) => [warning.id, warning.due_at]));
  return after.flatMap(({ id, due_at }) => {
    const from_at = old.get(id);
    if (from_at === undefined || Math.abs(due_at - from_at) <= more_than_s * 1000) return [];
    return [{ id, from_at, to_at: due_at }];
  });
}

function ofPot(stages: Stages, leads: Leads): Warning[] {
  const clock = stages.get("pot_life");
  const overAt = clock?.governing_at ?? null;
  if (clock === undefined || overAt === null) return [];
  const endingAt = overAt - leads.pot_life_ending_s * 1000;
  const usefulAt = overAt + POT_OVER_USEFUL_S * 1000;
  return [
    warning("pot_life_ending", clock, endingAt, overAt, { closes_at: overAt }),
    warning("pot_life_over", clock, overAt, usefulAt, { closes_at: overAt }),
  ];
}

function ofGel(stages: Stages): Warning[] {
  const clock = stages.get("gel");
  const at = clock?.governing_at ?? null;
  if (clock === undefined || at === null) return [];
  return [warning("gel", clock, at, at + POT_OVER_USEFUL_S * 1000, { closes_at: at })];
}

function ofRecoat(stages: Stages, leads: Leads): Warning[] {
  const opens = stages.get("recoat_opens");
  const closes = stages.get("recoat_closes");
  const opens_at = opens?.governing_at ?? null;
  const latest_at = closes?.last_start_at ?? null;
  const last_start_at = latest_at === null ? null : latest_at - leads.next_longer_s * 1000;
  const closes_at = closes?.governing_at ?? null;
  const known = { opens_at, last_start_at, closes_at };
  const found: Warning[] = [];
  if (opens !== undefined && opens_at !== null && ended(opens)) {
    found.push(warning("recoat_open", opens, opens_at, last_start_at, known));
  }
  if (closes !== undefined && closes_at !== null && last_start_at !== null) {
    let dueAt = last_start_at - leads.recoat_closing_s * 1000;
    if (opens_at !== null && opens_at > dueAt) dueAt = Math.min(opens_at, last_start_at);
    found.push(warning("recoat_closing", closes, dueAt, closes_at, known));
    found.push(warning("recoat_missed", closes, closes_at, null, known));
  }
  return found;
}

function ofRest(stages: Stages, leads: Leads): Warning[] {
  const found: Warning[] = [];
  const sandable = stages.get("sandable");
  const sandableAt = sandable?.governing_at ?? null;
  if (sandable !== undefined && sandableAt !== null && ended(sandable)) {
    found.push(warning("sandable", sandable, sandableAt, null, { opens_at: sandableAt }));
  }
  const opens = stages.get("immerse_opens");
  const closes = stages.get("immerse_closes");
  const opens_at = opens?.governing_at ?? null;
  const last_start_at = closes?.last_start_at ?? null;
  if (opens !== undefined && opens_at !== null && ended(opens)) {
    const known = { opens_at, last_start_at };
    found.push(warning("immerse_open", opens, opens_at, last_start_at, known));
  }
  if (closes !== undefined && last_start_at !== null) {
    const dueAt = last_start_at - leads.immerse_closing_s * 1000;
    const known = { opens_at, last_start_at, closes_at: closes.governing_at };
    found.push(warning("immerse_closing", closes, dueAt, last_start_at, known));
  }
  return found;
}

function ended(clock: Clock): boolean {
  return !clock.reasons.includes("coat_not_ended");
}

function warning(
  kind: WarningKind,
  clock: Clock,
  due_at: number,
  useless_after: number | null,
  instants: Instants,
): Warning {
  const params: Record<string, string | boolean> = {
    stage: clock.stage,
    basis: clock.basis,
    stale: clock.stale,
  };
  for (const [name, at] of Object.entries(instants)) {
    if (at !== null) params[name] = isoOf(at);
  }
  const { source_id } = clock;
  return { id: `${source_id}.${kind}`, kind, source_id, due_at, useless_after, params };
}
