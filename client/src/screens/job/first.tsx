/** What must be done first, as steps that one tap puts before another. */
import { useState } from "preact/hooks";
import type { ProposedStep } from "../../clocks/job_order.ts";
import { tell, tellOf } from "../../handbook/index.ts";
import { canWork } from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import { prepareStep } from "../../store/acts/index.ts";
import type { Preparation } from "../../store/acts/prepare.ts";
import { number } from "../../words/dates.ts";
import { say } from "../../words/index.ts";

const titleOf = (one: ProposedStep) => tellOf("mend", one.title_key.replace(/^mend\./, ""));

/** A proposal as a step of the job; what its kind says well enough has no title of its own. */
const preparationOf = (one: ProposedStep): Preparation => ({
  ...{ kind: one.kind, labour_h: one.labour_h },
  title: one.kind === "coat" || one.kind === "inspect" ? titleOf(one) : "",
});

export const putBefore = (step_id: string, steps: readonly ProposedStep[]) =>
  prepareStep(step_id, steps.map(preparationOf));

export function First(props: {
  step_id: string;
  steps: readonly ProposedStep[];
  or_else: readonly ProposedStep[];
  /** Where the step itself must be saved first: does that too. */
  onPut?: () => Promise<unknown>;
  label?: string;
  testid: string;
}) {
  const { step_id, steps, or_else, onPut, label, testid } = props;
  const [busy, setBusy] = useState(false);
  if (steps.length === 0) return null;
  const put = async () => {
    setBusy(true);
    if (onPut) await onPut();
    else await attempt(() => putBefore(step_id, steps), tell("ready.put_in"));
    setBusy(false);
  };
  return (
    <>
      <p class="strong">{tell("ready.first")}</p>
      <ol data-testid={`${testid}-first`}>
        {steps.map((one, n) => (
          <li key={`${one.kind}${n}`}>
            {n + 1}. {titleOf(one)}
            {one.labour_h !== null && ` (${say("step.hours", { n: number(one.labour_h) })})`}
          </li>
        ))}
      </ol>
      {or_else.length > 0 && (
        <p class="quiet">{tell("ready.or_else", { what: or_else.map(titleOf).join(", ") })}</p>
      )}
      {canWork() && (
        <button
          type="button"
          class="button button-wide"
          disabled={busy}
          onClick={put}
          data-testid={`${testid}-put`}
        >
          {label ?? tell("ready.put")}
        </button>
      )}
    </>
  );
}
