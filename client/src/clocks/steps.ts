/**
 * The state of a step, derived from what is physically true: the twin of the server's `trade.steps`.
 *
 * The first line that holds gives the state:
 *
 *   1  signed_off   standing is signed_off
 *   2  curing       standing is finished, and the cure is still ahead
 *   3  finished     standing is finished
 *   4  under_way    an application is open
 *   5  held         somebody gave a reason to hold it
 *   6  curing       the last application ended, and its cure is still ahead
 *   7  under_way    standing is started
 *   8  waiting      a link before it is not met yet
 *   9  ready        otherwise
 *
 * Marks fold into the standing in the order of their instants; only `reopened` undoes anything. The
 * rules of links and windows stand at the head of the server's module.
 */

import { isoOf } from "./instants.ts";

export type State =
  | "waiting"
  | "ready"
  | "under_way"
  | "curing"
  | "held"
  | "finished"
  | "signed_off";
export type MarkKind = "started" | "finished" | "signed_off" | "reopened";
export type Standing = "none" | "started" | "finished" | "signed_off";

const MARK_ORDER: readonly MarkKind[] = ["started", "finished", "signed_off", "reopened"];

const STANDINGS: Readonly<Record<Standing, Readonly<Record<MarkKind, Standing>>>> = {
  none: { started: "started", finished: "finished", signed_off: "signed_off", reopened: "none" },
  started: { started: "started", finished: "finished", signed_off: "signed_off", reopened: "none" },
  finished: {
    started: "finished",
    finished: "finished",
    signed_off: "signed_off",
    reopened: "none",
  },
  signed_off: {
    started: "signed_off",
    finished: "signed_off",
    signed_off: "signed_off",
    reopened: "none",
  },
};

export interface Mark {
  readonly kind: MarkKind;
  readonly at: number;
}

export interface LinkFacts {
  readonly step_id: string;
  readonly state: State;
  readonly finished_at: number | null;
  readonly min_gap_s: number;
  readonly max_gap_s: number | null;
  readonly opens_at: number | null;
  readonly closes_at: number | null;
}

export interface StepFacts {
  readonly id: string;
  readonly now_at: number;
  readonly held_reason: string | null;
  readonly marks: readonly Mark[];
  readonly has_open_application: boolean;
  readonly cures_until_at: number | null;
  readonly before: readonly LinkFacts[];
}

export interface Why {
  readonly code: string;
  readonly params: Readonly<Record<string, string>>;
}

export interface StepState {
  readonly state: State;
  readonly why: readonly Why[];
  readonly until_at: number | null;
}

/** Derive the state of a step. */
export function stepState(facts: StepFacts): StepState {
  const standing = standingOf(facts.marks);
  const hold = facts.held_reason === null ? [] : [why("held", { reason: facts.held_reason })];
  const curing = curingOf(facts);
  if (standing === "signed_off") return { state: "signed_off", why: [], until_at: null };
  if (standing === "finished") return curing ?? { state: "finished", why: [], until_at: null };
  const missed = missedOf(facts);
  if (facts.has_open_application) {
    const reasons = [why("application_open"), ...hold, ...missed];
    return { state: "under_way", why: reasons, until_at: null };
  }
  if (hold.length > 0) {
    return { state: "held", why: [...hold, ...(curing?.why ?? [])], until_at: null };
  }
  if (curing !== null) return curing;
  const unmet = facts.before.flatMap((link) => whyUnmet(link, facts.now_at));
  if (standing === "started") {
    return { state: "under_way", why: [why("started"), ...unmet, ...missed], until_at: null };
  }
  if (unmet.length > 0) {
    return { state: "waiting", why: [...unmet, ...missed], until_at: waitsUntil(facts) };
  }
  return ready(facts, missed);
}

/** Fold the marks, in the order of their instants, into where the step stands. */
export function standingOf(marks: readonly Mark[]): Standing {
  const ordered = [...marks].sort(
    (one, other) =>
      one.at - other.at || MARK_ORDER.indexOf(one.kind) - MARK_ORDER.indexOf(other.kind),
  );
  return ordered.reduce<Standing>((standing, mark) => STANDINGS[standing][mark.kind], "none");
}

function why(code: string, params: Readonly<Record<string, string>> = {}): Why {
  return { code, params };
}

function curingOf(facts: StepFacts): StepState | null {
  const until_at = facts.cures_until_at;
  if (facts.has_open_application || until_at === null || until_at <= facts.now_at) return null;
  return { state: "curing", why: [why("curing", { until_at: isoOf(until_at) })], until_at };
}

function whyUnmet(link: LinkFacts, nowAt: number): Why[] {
  const meets = meetsAt(link);
  if (!meets.known) {
    return [why("before_not_finished", { step_id: link.step_id, state: link.state })];
  }
  if (meets.at === null || meets.at <= nowAt) return [];
  const code = link.opens_at === meets.at ? "before_curing" : "min_gap";
  return [why(code, { step_id: link.step_id, until_at: isoOf(meets.at) })];
}

function meetsAt(link: LinkFacts): { at: number | null; known: boolean } {
  const done = link.state === "finished" || link.state === "signed_off";
  const opening = link.state === "curing" && link.opens_at !== null;
  const gap = link.min_gap_s > 0;
  if (!(done || opening) || (gap && link.finished_at === null)) return { at: null, known: false };
  const instants = link.opens_at === null ? [] : [link.opens_at];
  if (gap && link.finished_at !== null) instants.push(link.finished_at + link.min_gap_s * 1000);
  return { at: instants.length > 0 ? Math.max(...instants) : null, known: true };
}

function waitsUntil(facts: StepFacts): number | null {
  const answers = facts.before.map(meetsAt);
  if (answers.some((answer) => !answer.known)) return null;
  const instants = answers.map((answer) => answer.at).filter((at) => at !== null);
  return instants.length > 0 ? Math.max(...instants) : null;
}

function closesAt(link: LinkFacts): number | null {
  const instants = link.closes_at === null ? [] : [link.closes_at];
  if (link.max_gap_s !== null && link.finished_at !== null) {
    instants.push(link.finished_at + link.max_gap_s * 1000);
  }
  return instants.length > 0 ? Math.min(...instants) : null;
}

function windowsOf(facts: StepFacts): { step_id: string; at: number }[] {
  return facts.before.flatMap((link) => {
    const at = closesAt(link);
    return at === null ? [] : [{ step_id: link.step_id, at }];
  });
}

function missedOf(facts: StepFacts): Why[] {
  return windowsOf(facts)
    .filter(({ at }) => at <= facts.now_at)
    .map(({ step_id, at }) => why("window_missed", { step_id, closes_at: isoOf(at) }));
}

function ready(facts: StepFacts, missed: readonly Why[]): StepState {
  const ahead = windowsOf(facts).filter(({ at }) => at > facts.now_at);
  const closing = ahead.map(({ step_id, at }) =>
    why("window_closes", { step_id, closes_at: isoOf(at) }),
  );
  const until_at = ahead.length > 0 ? Math.min(...ahead.map(({ at }) => at)) : null;
  return { state: "ready", why: [...missed, ...closing], until_at };
}
