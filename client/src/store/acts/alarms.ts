/** Answers to alarms, and how they ring: each is a record or a rule, written down with no signal too. */
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { nowMs } from "../now.ts";
import type { ItemRow, Json } from "../types.ts";
import { view } from "../view.ts";
import { creating, recording, setting } from "./actions.ts";

const iso = (ms: number): string => new Date(ms).toISOString();

/** Put an alarm off for me; it rings once more when the time is over. */
export async function putOff(alarm_id: string, minutes: number, at = nowMs()): Promise<void> {
  const body = { alarm_id, snoozed_at: iso(at), until_at: iso(at + minutes * 60_000) };
  await commit("put_off", [recording("snoozed", body)]);
}

/** Say that what an alarm asks for is dealt with: it ends for everybody whom it was for. */
export async function markHandled(alarm_id: string, at = nowMs()): Promise<void> {
  await commit("mark_handled", [recording("handled", { alarm_id, handled_at: iso(at) })]);
}

/** What a rule is about: a step, a kind, both, or everything. */
export interface RuleScope {
  member_id: string;
  step_id: string | null;
  kind: string | null;
}

/** The rule that says something about a scope; of several the one that was made last. */
export function ruleFor({ member_id, step_id, kind }: RuleScope): ItemRow | undefined {
  return view
    .peek()
    .items("ring_rule")
    .filter(
      ({ fields }) =>
        fields.member_id === member_id &&
        (fields.step_id ?? null) === step_id &&
        (fields.kind ?? null) === kind,
    )
    .sort((a, b) => (a.at < b.at ? 1 : -1))[0];
}

/** Say how something rings for a person. What is null is left to what is said more generally. */
export async function setRule(scope: RuleScope, fields: Record<string, Json>): Promise<void> {
  const rule = ruleFor(scope);
  const action = rule
    ? setting("ring_rule", rule.id, fields)
    : creating("ring_rule", newId(), { ...scope, ...fields });
  await commit("set_rule", [action]);
}
