/** What is set for whom on the alarm screens, and what holds where nothing is set. */
import { ALARM_KINDS, MANNERS, type WarningKind } from "../../clocks/warning_kinds.ts";
import { attempt } from "../../parts/said.tsx";
import { type RuleScope, ruleFor, setRule } from "../../store/acts/index.ts";
import { RingRules } from "../../store/reckon/rules.ts";
import type { Json } from "../../store/view.ts";
import { me, view } from "../../store/view.ts";
import { span } from "../../words/dates.ts";
import { say } from "../../words/index.ts";

/** What a rule itself says; null where it leaves it to a more general one. */
export function saidBy(scope: RuleScope, name: string): Json {
  return (view.value && ruleFor(scope)?.fields[name]) ?? null;
}

/** Write it down at once: a choice is a tap, and nothing is left to be saved. */
export const put = (scope: RuleScope, fields: Record<string, Json>) =>
  void attempt(() => setRule(scope, fields), say("said.saved"));

/** Who has just given an address wants it used. */
export const ringMeBy = (way: "by_mail" | "by_webhook") =>
  put({ member_id: me.value?.member_id ?? "", step_id: null, kind: null }, { [way]: true });

/** How a kind rings for a person by all rules together. */
export function resolved(member_id: string, kind: WarningKind, step_id: string | null = null) {
  const member = view.value.item("member", member_id);
  return member ? new RingRules(view.value).ring(member, kind, step_id ? [step_id] : []) : null;
}

const LEADS_MIN: Partial<Record<WarningKind, readonly number[]>> = {
  pot_life_ending: [2, 5, 10, 15],
  recoat_closing: [30, 60, 120, 240],
  immerse_closing: [1, 3, 7, 14].map((days) => days * 24 * 60),
  step_due: [0, 15, 30, 60],
  step_late: [15, 30, 60, 120],
  weather_edge: [30, 60, 120, 240],
};

export const leadsOf = (kind: WarningKind): readonly number[] => LEADS_MIN[kind] ?? [];
export const inWords = (minutes: number) => span(minutes * 60_000);
export const usualLead = (kind: WarningKind) => MANNERS[kind].lead_min ?? 0;
export { ALARM_KINDS, type WarningKind };
