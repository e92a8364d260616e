/** A plan as the server tells it: docs/plan.md, section API. Instants are RFC 3339 texts, days `2026-03-02`. */

export type PlanState = "asked" | "running" | "ready" | "published" | "cancelled" | "failed";

export interface Progress {
  /** How much of the time that it may take is over, 0 to 1. */
  p_done: number;
  phase: string;
  /** How late the best plan so far is; null while there is none. */
  late_s: number | null;
  /** How many windows the best plan so far misses. */
  missed: number | null;
}

/** What a list of plans says of each. */
export interface PlanHead {
  plan_id: string;
  state: PlanState;
  asked_at: string;
  asked_by: string | null;
  why: string[];
  progress: Progress | null;
  published_id?: string | null;
  published_at?: string | null;
  done_at?: string | null;
  problem?: { code: string; step_id?: string | null } | null;
}

export interface Piece {
  start_at: string;
  end_at: string;
  member_ids: string[];
}

export type Params = Record<string, string | number | null>;

export interface Why {
  code: string;
  params?: Params | null;
}

export interface PlanStep extends Piece {
  step_id: string;
  /** The stretches in which it is worked on, in order; none stand for one from start to end. */
  pieces?: Piece[];
  why: Why | null;
  /** What it lays cures until then. */
  cure_until_at: string | null;
  /** The window in which it may start. */
  opens_at: string | null;
  closes_at: string | null;
  /** It starts after its window has closed. */
  missed: boolean;
}

export interface Change {
  step_id: string;
  member_ids_before: string[];
  member_ids_after: string[];
  start_at_before: string | null;
  start_at_after: string | null;
}

export interface Score {
  late_s: number;
  missed_work_s: number;
  moved: number;
  idle_and_walks_s: number;
  uneven_s: number;
}

export interface Proposal {
  id: string;
  score: Score;
  launch_made: boolean;
  /** No plan is less late than that; null where it is not known. */
  late_bound_s: number | null;
  steps: PlanStep[];
  changes: Change[];
}

/** Something that cannot be, or what it would take and the day that it buys. */
export interface Cannot {
  step_ids: string[];
  code: string;
  params?: Params | null;
  buys_on: string | null;
}

export interface BurnUp {
  done: { on: string; labour_h: number }[];
  fan: { on: string; p10_h: number; p50_h: number; p90_h: number }[];
  scope_h: number;
}

export interface Forecast {
  p_launch: number;
  p10_on: string | null;
  p50_on: string | null;
  p90_on: string | null;
  says: string[];
  /** How many jobs each finished job reveals. */
  r: number;
  r_low: number;
  r_high: number;
  r_from: "prior" | "record";
  never_ends: boolean;
  criticality: { job_id: string; p_critical: number }[];
  to_move: string[];
  p_with_move: number | null;
  burn_up: BurnUp | null;
}

export interface WholePlan extends PlanHead {
  proposals: Proposal[];
  cannot: Cannot[];
  forecast: Forecast | null;
  /** What had to be taken for granted. */
  notes?: { step_id: string; code: string }[];
}

/** The stretches in which a step is worked on. */
export function piecesOf(step: PlanStep): Piece[] {
  const { start_at, end_at, member_ids } = step;
  return step.pieces?.length ? step.pieces : [{ start_at, end_at, member_ids }];
}

/** The proposal that counts: the published one, else the one with this id, else the first. */
export function proposalOf(plan: WholePlan, wanted = ""): Proposal | undefined {
  const byId = (id: string) => plan.proposals.find((one) => one.id === id);
  return byId(wanted) ?? byId(plan.published_id ?? "") ?? plan.proposals[0];
}

/**
 * The plan to show of a list that begins with the newest: an owner looks at what may be published, everybody else at
 * what was published, and at what may be only while nothing was.
 */
export function headToShow(heads: readonly PlanHead[], owner: boolean): PlanHead | undefined {
  const done = heads.filter(({ state }) => state === "ready" || state === "published");
  const published = done.find(({ state }) => state === "published");
  return owner ? done[0] : (published ?? done[0]);
}

/** A plan that is being worked out. */
export const inTheWorks = (heads: readonly PlanHead[]): PlanHead | undefined =>
  heads.find(({ state }) => state === "asked" || state === "running");
