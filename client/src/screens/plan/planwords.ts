/** Codes of a plan in sentences. */
import { item, memberName, text, zonePath } from "../../parts/know.ts";
import { percentOf } from "../../plan/chance.ts";
import type { Cannot, Params, PlanStep, Why } from "../../plan/types.ts";
import { number } from "../../words/dates.ts";
import { type Key, knows, say } from "../../words/index.ts";
import { nameOf, placeOf, stepAndPlace } from "./facts.ts";
import { at, dayWritten, fromTo, spanTogether } from "./instants.ts";

/** Each parameter of a code as a person reads it. */
function inWords(params: Params): Record<string, string> {
  const words: Record<string, string> = {};
  for (const [name, value] of Object.entries(params)) {
    if (value === null || value === "") continue;
    words[name] = one(name, value);
  }
  return words;
}

function one(name: string, value: string | number): string {
  if (typeof value === "number")
    return name.endsWith("_s") ? spanTogether(value * 1000) : number(value);
  if (name === "member_id") return memberName(value);
  if (name === "step_id") return stepAndPlace(value);
  if (name === "zone_id") return zonePath(value);
  if (name === "job_id") return text(item("job", value), "title");
  if (name === "skill_id") return text(item("skill", value), "name") || value;
  if (name.endsWith("_at")) return at(value);
  if (name === "on" || name.endsWith("_on")) return dayWritten(value);
  return value;
}

const HOLE = /\{\w+\}/;

/** Texts of one code, from the one that says most: those that lack a parameter are passed over. */
const FORMS = ["", "_step", "_until", "_any", "_bare"];

/** The text of a code with its parameters, a general one where this phone has none. */
function coded(prefix: string, code: string, params: Params | null | undefined): string {
  const words = inWords(params ?? {});
  for (const form of FORMS) {
    const key = `plan.${prefix}_${code}${form}`;
    if (!knows(key)) continue;
    const said = say(key, words);
    if (!HOLE.test(said)) return said;
  }
  return say(`plan.${prefix}_other` as Key, { code: code.replaceAll("_", " ") });
}

/** Why a step sits where it sits. */
export const whyInWords = (why: Why | null): string =>
  why === null ? "" : coded("why", why.code, why.params);

/** What cannot be, or what it would take. */
export const cannotInWords = ({ code, params }: Cannot): string => coded("cannot", code, params);

/** Why no plan came of it; nothing where this phone has no words for it. */
export function problemInWords(problem: { code: string; step_id?: string | null }): string {
  const key = `plan.problem_${problem.code.replaceAll("-", "_")}`;
  const step = problem.step_id ? stepAndPlace(problem.step_id) : "";
  return knows(key) ? say(key, { step }) : "";
}

export const noteInWords = (code: string): string => coded("note", code, {});

export const saysInWords = (code: string): string => coded("says", code, {});
export const askedForInWords = (code: string): string => coded("because", code, {});

export const peopleInWords = (ids: readonly string[]): string =>
  ids.length ? ids.map(memberName).join(", ") : say("plan.nobody");

/** `in time` or `3 d late`. */
export const lateInWords = (late_s: number): string =>
  late_s > 0 ? say("plan.late", { span: spanTogether(late_s * 1000) }) : say("plan.in_time");

export const percent = (p: number): string => say("plan.percent", { n: percentOf(p) });

/** What hangs on a step besides its work: its window, whether it is missed, until when it cures. */
export function windowInWords({ opens_at, closes_at, missed }: PlanStep): string {
  if (missed) return closes_at ? say("plan.missed_at", { at: at(closes_at) }) : say("plan.missed");
  if (opens_at && closes_at)
    return say("plan.window", { opens: at(opens_at), closes: at(closes_at) });
  if (closes_at) return say("plan.window_closes", { closes: at(closes_at) });
  return opens_at ? say("plan.window_opens", { opens: at(opens_at) }) : "";
}

export const cureInWords = ({ cure_until_at }: PlanStep): string =>
  cure_until_at ? say("plan.cures", { until: at(cure_until_at) }) : "";

/** A bar in one breath: for those who hear it. */
export function barInWords(
  step: PlanStep,
  start: number,
  end: number,
  who: readonly string[],
): string {
  const [from, to] = fromTo(start, end);
  const first = [nameOf(step.step_id), placeOf(step.step_id), peopleInWords(who)].filter(Boolean);
  const rest = [windowInWords(step), cureInWords(step)].filter(Boolean);
  return [`${first.join(", ")}: ${say("plan.from_to", { from, to })}`, ...rest].join(". ");
}
