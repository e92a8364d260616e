/** What an entry is for: guessed from what the person is at, and changed in one list. */

import { Pick } from "../../parts/fields.tsx";
import {
  DONE,
  isApplied,
  item,
  jobPlace,
  productName,
  stepName,
  stepRow,
  text,
  zoneLabel,
} from "../../parts/know.ts";
import { myDay, type StepRow, type StepState } from "../../store/derived.ts";
import { type ItemRow, view } from "../../store/view.ts";
import { say } from "../../words/index.ts";

const AT_IT: StepState[] = ["under_way", "curing", "ready", "held", "waiting"];

/** What comes next is meant before what is curing: nobody coats the same step twice. */
export const NEXT: StepState[] = ["under_way", "ready", "waiting", "curing", "held"];

/** The step that a person most likely means: one of their own before a free one, by what they are at. */
export function likelyStep(
  fits: (step: ItemRow) => boolean = () => true,
  order: StepState[] = AT_IT,
): string {
  const rows = myDay.value.filter((row) => fits(row.step));
  const weight = (row: StepRow) => order.indexOf(row.state) + (row.mine ? 0 : 10);
  return [...rows].sort((a, b) => weight(a) - weight(b))[0]?.step.id ?? "";
}

/** `Coat 2, Port below waterline: Antifouling`: the step in front, since lists of a phone cut the end. */
export function stepPath(step: ItemRow | undefined): string {
  const job = item("job", text(step, "job_id"));
  return [stepName(step), jobPlace(text(job, "zone_id"), text(job, "title"))]
    .filter(Boolean)
    .join(", ");
}

/** Steps to choose from: those of the day in front, done ones last. */
function ordered(steps: ItemRow[]): ItemRow[] {
  const day = new Map(myDay.value.map((row, place) => [row.step.id, place]));
  const weight = (step: ItemRow) =>
    (day.get(step.id) ?? 10_000) + (DONE.has(stepRow(step).state) ? 100_000 : 0);
  return [...steps].sort((a, b) => weight(a) - weight(b));
}

export function StepPick(props: {
  value: string;
  onPick: (id: string) => void;
  applied?: boolean;
  none?: string | undefined;
  wrong?: string | undefined;
}) {
  const steps = view.value
    .items("step")
    .filter((step) => item("job", text(step, "job_id")))
    .filter((step) => !props.applied || isApplied(step) || step.id === props.value);
  return (
    <Pick
      label={say(props.applied ? "log.choose_step" : "log.for")}
      value={props.value}
      options={ordered(steps).map((step) => ({ value: step.id, label: stepPath(step) }))}
      none={props.none}
      onPick={props.onPick}
      wrong={props.wrong}
      testid="for-step"
    />
  );
}

export function ZonePick(props: {
  value: string;
  onPick: (id: string) => void;
  none: string;
  label?: string;
}) {
  return (
    <Pick
      label={props.label ?? say("job.zone")}
      value={props.value}
      options={view.value.items("zone").map((row) => ({ value: row.id, label: zoneLabel(row.id) }))}
      none={props.none}
      onPick={props.onPick}
      testid="for-zone"
    />
  );
}

export function ProductPick(props: {
  value: string;
  onPick: (id: string) => void;
  wrong?: string | undefined;
}) {
  return (
    <Pick
      label={say("mix.product")}
      value={props.value}
      options={view.value
        .items("product")
        .map((row) => ({ value: row.id, label: productName(row.id) }))}
      none={props.value ? undefined : say("step.product_none")}
      onPick={props.onPick}
      wrong={props.wrong}
      testid="product"
    />
  );
}
