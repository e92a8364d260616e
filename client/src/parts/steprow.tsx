/** A step as a line of the board: its state, its name, where, who has it, and what to do next. */
import type { ComponentChildren } from "preact";
import type { StepRow } from "../store/derived.ts";
import { view } from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";
import {
  item,
  jobPlace,
  left,
  memberName,
  openCoat,
  productName,
  stepName,
  text,
  when,
} from "./know.ts";
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
            {jobPlace(zone?.id, text(job, "title"))}
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
      {place &&
        row.state === "waiting" &&
        row.waits_for.map((id) => (
          <p key={id}>{say("step.waits_for", { step: stepName(item("step", id)) })}</p>
        ))}
      {!place && row.state === "curing" && <Cure row={row} />}
      {text(step, "text") && <p class="step-how">{text(step, "text")}</p>}
      <div class="step-deed">
        <NextDeed row={row} />
      </div>
      {props.children}
    </li>
  );
}

/** Where no card of clocks stands beside the step: its stages, and how long until the next. */
function Cure({ row }: { row: StepRow }) {
  const ahead = row.clocks.filter((clock) => clock.running);
  return (
    <ul class="tides figures">
      {ahead.map((clock, place) => (
        <li key={clock.alarm_id}>
          <span>{sayOf("stage", clock.kind)}</span>
          <span>
            {when(clock.at ?? 0)}
            {place === 0 && `, ${left(clock.at ?? 0)}`}
          </span>
        </li>
      ))}
    </ul>
  );
}

/** A step that cannot begin yet, in two short lines. */
export function LaterLine({ row }: { row: StepRow }) {
  return (
    <li data-testid="step" data-step={row.step.id} data-state={row.state}>
      <a href={to("job", row.job?.id ?? "")}>
        <b>{stepName(row.step)}</b>
        <span>{jobPlace(row.zone?.id, text(row.job, "title"))}</span>
        {row.waits_for.map((id) => (
          <span class="quiet" key={id}>
            {say("step.waits_for", { step: stepName(item("step", id)) })}
          </span>
        ))}
      </a>
    </li>
  );
}
