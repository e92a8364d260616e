/** A step as a line of the board: its state, its name, where, who has it, and what to do next. */
import type { ComponentChildren } from "preact";
import type { StepRow } from "../store/derived.ts";
import { view } from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";
import { clockLine } from "./clockcard.tsx";
import { item, memberName, openCoat, productName, stepName, text, when, zonePath } from "./know.ts";
import { NextDeed } from "./nextdeed.tsx";
import { to } from "./router.ts";
import { StateWord } from "./stateword.tsx";

export function StepLine(props: {
  row: StepRow;
  /** Show the job and place, where the line does not stand under them. */
  place?: boolean;
  number?: number;
  children?: ComponentChildren;
}) {
  const { row, place, number } = props;
  const { step, job, zone } = row;
  const coat = openCoat(step.id);
  return (
    <li class="step" data-testid="step" data-step={step.id} data-state={row.state}>
      <div class="step-head">
        <StateWord state={row.state} />
        {view.value.waitingFor(step.id) && <span class="unsent">{say("sync.wait_mark")}</span>}
      </div>
      <h3>
        {number !== undefined && <span class="step-number figures">{number}. </span>}
        {stepName(step)}
      </h3>
      {place && job && (
        <p>
          <a class="step-place" href={to("job", job.id)}>
            {[zonePath(zone?.id), text(job, "title")].filter(Boolean).join(": ")}
          </a>
        </p>
      )}
      <p class="quiet">
        {[
          text(step, "title") && sayOf("kind", text(step, "kind")),
          row.product && productName(row.product.id),
          row.assignees.length ? row.assignees.map(memberName).join(", ") : say("now.free"),
        ]
          .filter(Boolean)
          .join(" · ")}
      </p>
      {coat && (
        <p class="strong">{say("clock.since", { when: when(String(coat.body.start_at)) })}</p>
      )}
      {row.state === "held" && (
        <p class="strong" data-testid="held-why">
          {[sayOf("hold", text(step, "held")), text(step, "held_text")].filter(Boolean).join(": ")}
        </p>
      )}
      {row.waits_for.map((id) => (
        <p key={id}>{say("step.waits_for", { step: stepName(item("step", id)) })}</p>
      ))}
      {row.state === "curing" &&
        row.clocks
          .filter((clock) => clock.running)
          .map((clock) => (
            <p class="figures" key={clock.alarm_id}>
              {clockLine(clock)}
            </p>
          ))}
      {text(step, "text") && <p class="step-how">{text(step, "text")}</p>}
      <div class="step-deed">
        <NextDeed row={row} />
      </div>
      {props.children}
    </li>
  );
}
