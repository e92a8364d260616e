/** What the plan's screens ask of the board: names, places, hours, and which proposal a person looks at. */
import { signal } from "@preact/signals";
import { flag, item, refit, stepName, text, yardZone, zoneName } from "../../parts/know.ts";
import type { Hours } from "../../plan/axis.ts";
import { type PlanStep, type Proposal, proposalOf, type WholePlan } from "../../plan/types.ts";
import { wholePlan } from "../../store/plans.ts";
import { view } from "../../store/view.ts";

export const launchAt = (): number => Date.parse(text(refit(), "launch_at"));

/** Which proposal a person looks at, for one plan. */
const looked = signal({ plan_id: "", id: "" });

export function lookAt(plan: WholePlan, id: string): void {
  looked.value = { plan_id: plan.plan_id, id };
}

export function shownProposal(): Proposal | undefined {
  const plan = wholePlan.value;
  if (plan === null) return undefined;
  return proposalOf(plan, looked.value.plan_id === plan.plan_id ? looked.value.id : "");
}

export const stepOf = (step_id: string) => item("step", step_id);
export const jobOf = (step_id: string) => item("job", text(stepOf(step_id), "job_id"));
export const zoneIdOf = (step_id: string): string => text(jobOf(step_id), "zone_id");
export const kindOf = (step_id: string): string => text(stepOf(step_id), "kind");
export const nameOf = (step_id: string): string => stepName(stepOf(step_id));

/** `Port hull: Barrier coats`: where a step belongs. */
export const placeOf = (step_id: string): string =>
  [zoneName(zoneIdOf(step_id)), text(jobOf(step_id), "title")].filter(Boolean).join(": ");

/** `Coat 2, Port hull: Barrier coats`. */
export const stepAndPlace = (step_id: string): string =>
  [nameOf(step_id), placeOf(step_id)].filter(Boolean).join(", ");

/** A step that has to be done before the launch. */
export const mustBeDone = (step: PlanStep): boolean => !flag(jobOf(step.step_id), "afloat_ok");

/** When the yard works. */
export function yardHours(): Hours {
  const row = refit();
  return {
    zone: yardZone(),
    day_starts: text(row, "day_starts") || "08:00",
    day_ends: text(row, "day_ends") || "17:00",
    work_days: text(row, "work_days") || "12345",
  };
}

/** When a person works: the yard's hours where they have none of their own. */
export function memberHours(member_id: string): Hours {
  const yard = yardHours();
  const row = item("member", member_id);
  return {
    zone: yard.zone,
    day_starts: text(row, "day_starts") || yard.day_starts,
    day_ends: text(row, "day_ends") || yard.day_ends,
    work_days: text(row, "work_days") || yard.work_days,
  };
}

/** The days on which somebody, or the whole yard, is away. */
export function awayOn(member_id: string, day: string): boolean {
  return view.value.items("away").some((row) => {
    const who = text(row, "member_id");
    return (
      (who === "" || who === member_id) && text(row, "from_on") <= day && day <= text(row, "to_on")
    );
  });
}
