/**
 * The order of a job's steps held against the table of what may go over what: as it stands, and as it would be after a
 * change that nobody saved yet.
 *
 * What lies below the first step is the last coat of another job on the zone or on one around it, else the zone's ground.
 * A step goes on in the window of the coat below when it follows that by its cure or within a time that a person set,
 * also where something that lays nothing stands between the two.
 */
import { materialOf } from "../../clocks/compatibility.ts";
import { checkOrder, type Finding, type JobStep, type Surface } from "../../clocks/job_order.ts";
import type { Profile } from "../../clocks/types.ts";
import {
  APPLIED,
  amount,
  coatsOn,
  DONE,
  flag,
  isApplied,
  item,
  linksTo,
  stepName,
  stepsOf,
  text,
} from "../../parts/know.ts";
import { stepStates } from "../../store/derived.ts";
import { groundOf, zonesAround } from "../../store/reckon/ground.ts";
import { type ItemRow, type Json, type RecordRow, view } from "../../store/view.ts";

interface Before {
  after_id: string;
  /** The two belong together: by the cure, or at most so long after it. */
  close: boolean;
}

/** A step as far as the order is concerned. */
export interface Planned {
  id: string;
  name: string;
  kind: string;
  product_id: string;
  tack: boolean;
  before: Before[];
}

export const plannedOf = (step: ItemRow): Planned => ({
  id: step.id,
  name: stepName(step),
  kind: text(step, "kind"),
  product_id: text(step, "product_id"),
  tack: flag(step, "tack"),
  before: linksTo(step.id).map((link) => ({
    after_id: text(link, "after_id"),
    close: flag(link, "by_cure") || amount(link, "max_gap_s") !== null,
  })),
});

export const plannedIn = (job_id: string): Planned[] => stepsOf(job_id).map(plannedOf);

/** What a product is made of; null where it does not say. */
export function materialBy(profile: Json | undefined) {
  const { product_class, compatibility } = (profile ?? {}) as Partial<Profile>;
  return product_class ? materialOf(product_class, compatibility ?? null) : null;
}

/** What a step lays; null for what lays nothing, and where the product does not say what it is. */
const materialIn = ({ kind, product_id }: Planned) =>
  APPLIED.has(kind) ? materialBy(item("product", product_id)?.fields.profile) : null;

/** What lies below a job's first step: a coat that another job laid, or the ground as nobody prepared it. */
export interface Below {
  laid: JobStep | null;
  ground: Surface | null;
}

const NOTHING: Below = { laid: null, ground: null };

const zoneOf = (job_id: string) => text(item("job", job_id), "zone_id") || null;
const startOf = (coat: RecordRow) => String(coat.body.start_at);

export function belowJob(job_id: string): Below {
  const zones = new Set(zonesAround(view.value, zoneOf(job_id)));
  const jobOf = (coat: RecordRow) => text(item("step", String(coat.body.step_id)), "job_id");
  const coats = [...view.value.records("application")].sort((a, b) =>
    startOf(a).localeCompare(startOf(b)),
  );
  const first = coats.find((coat) => jobOf(coat) === job_id);
  const last = coats
    .filter((coat) => jobOf(coat) !== job_id && (!first || startOf(coat) < startOf(first)))
    .filter((coat) => zones.has(String(coat.body.zone_id ?? zoneOf(jobOf(coat)))))
    .at(-1);
  if (!last) return { laid: null, ground: groundOf(view.value, zoneOf(job_id)) };
  const material = materialBy(last.body.profile);
  const step_id = String(last.body.step_id);
  return { laid: { step_id, kind: "coat", material, in_window: false, tack: false }, ground: null };
}

/** The steps as the table is asked about them; `laid` is the step whose coat lies below the first. */
export function orderOf(steps: readonly Planned[], laid = ""): JobStep[] {
  let near = new Set<string>([laid]);
  return steps.map((step) => {
    const in_window = step.before.some(({ after_id, close }) => near.has(after_id) && close);
    const { id: step_id, kind } = step;
    if (APPLIED.has(kind)) near = new Set([step_id]);
    else if (in_window) near.add(step_id);
    return { step_id, kind, material: materialIn(step), in_window, tack: step.tack };
  });
}

/** A patch is tried without the table taking notice: where one stands before the step, it was answered. */
function isTried(steps: readonly Planned[], finding: Finding): boolean {
  const place = steps.findIndex((step) => step.id === finding.step_id);
  const laid = steps
    .slice(0, place)
    .map((step) => APPLIED.has(step.kind))
    .lastIndexOf(true);
  const between = steps.slice(laid + 1, place).map((step) => step.kind);
  const asks = finding.proposals.map((one) => one.kind);
  return asks.length > 0 && asks.every((kind) => kind === "inspect") && between.includes("inspect");
}

const isDone = (step_id: string) => DONE.has(stepStates.value.get(step_id) ?? "");
const isOver = (step_id: string) => isDone(step_id) || coatsOn(step_id).length > 0;

/** The steps that would be wrong, but for those that are done or under way: it is too late to tell them. */
export function findingsIn(steps: readonly Planned[], below: Below = NOTHING): Finding[] {
  const { laid, ground } = below;
  const order = [...(laid ? [laid] : []), ...orderOf(steps, laid?.step_id)];
  return checkOrder(order, ground?.under ?? null, ground?.state ?? null).filter(
    (finding) => !isOver(finding.step_id) && !isTried(steps, finding),
  );
}

const told = ({ step_id, over, under, reasons }: Finding) =>
  [step_id, over, under, ...reasons.map((one) => one.code)].join();

/**
 * Whether a step's mends are told by the order already: where a finding offers them, and where another coat will lie
 * below by then, so that what lies there now asks for nothing.
 */
export function isToldByOrder(step: ItemRow): boolean {
  const job_id = text(step, "job_id");
  const steps = stepsOf(job_id);
  const before = steps.slice(0, Math.max(0, steps.indexOf(step)));
  if (before.some((one) => isApplied(one) && !isDone(one.id))) return true;
  const found = findingsIn(plannedIn(job_id), belowJob(job_id));
  return found.some((one) => one.step_id === step.id && one.proposals.length > 0);
}

/** What a change would make wrong that is not wrong now. */
export function madeWrong(
  now: readonly Planned[],
  then: readonly Planned[],
  below: Below = NOTHING,
): Finding[] {
  const known = new Set(findingsIn(now, below).map(told));
  return findingsIn(then, below).filter((finding) => !known.has(told(finding)));
}

/** The steps with one of them moved up (-1) or down (1). */
export function movedIn(
  steps: readonly Planned[],
  step_id: string,
  direction: -1 | 1,
): readonly Planned[] {
  const place = steps.findIndex((step) => step.id === step_id);
  const [one, other] = [steps[place], steps[place + direction]];
  if (!one || !other) return steps;
  return steps.map((step) => (step === one ? other : step === other ? one : step));
}

/** A step in its place, or behind all others where it is new. */
export const withStep = (steps: readonly Planned[], step: Planned): Planned[] =>
  steps.some((one) => one.id === step.id)
    ? steps.map((one) => (one.id === step.id ? step : one))
    : [...steps, step];

export const isRefused = (finding: Finding) => finding.verdict === "no";
