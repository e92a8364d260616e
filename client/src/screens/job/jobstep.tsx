/** A step on its job's screen: its gaps, its people, and all that may be done with it. */
import { useState } from "preact/hooks";
import { Choices, More, TextField } from "../../parts/fields.tsx";
import {
  amount,
  canWork,
  DONE,
  flag,
  isApplied,
  isOwner,
  item,
  lastMarkOf,
  linksTo,
  live,
  memberName,
  stepName,
  text,
} from "../../parts/know.ts";
import { later } from "../../parts/later.tsx";
import { Ask } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { StepLine } from "../../parts/steprow.tsx";
import { assign, drop, holdStep, markStep, moveStep, unassign } from "../../store/acts/index.ts";
import type { StepRow } from "../../store/derived.ts";
import { type ItemRow, view } from "../../store/view.ts";
import { number, span } from "../../words/dates.ts";
import { say, sayOf } from "../../words/index.ts";
import { belowJob, isRefused, madeWrong, movedIn, plannedIn } from "./order.ts";
import { OrderHere, OrderOfMove } from "./orderfound.tsx";
import { Planned, PlannedLine } from "./planned.tsx";
import { EditStep } from "./stepform.tsx";

const MayCoat = later(async () => (await import("./readiness.tsx")).mayCoat());

export function JobStep(props: { row: StepRow; number: number; first: boolean; last: boolean }) {
  const { row, number: place, first, last } = props;
  const labour = amount(row.step, "labour_h");
  return (
    <StepLine row={row} number={place}>
      {linksTo(row.step.id).map((link) => (
        <p key={link.id} class="gap figures">
          {gapInWords(link)}
        </p>
      ))}
      {labour !== null && <p class="quiet figures">{say("step.hours", { n: number(labour) })}</p>}
      <PlannedLine step={row.step} />
      <OrderHere step={row.step} />
      {isApplied(row.step) && <MayCoat path={[row.step.id]} />}
      {canWork() && (
        <More label={say("step.actions")} testid="step-more">
          <People row={row} />
          <Hold row={row} />
          <Marks row={row} />
          <Order row={row} first={first} last={last} />
          <Planned step={row.step} />
          <a class="button" href={to("alarms", "step", row.step.id)} data-testid="step-alarms">
            {say("ring.step_title")}
          </a>
          <EditStep step={row.step} />
          <Drop step={row.step} />
        </More>
      )}
    </StepLine>
  );
}

/** `at least 4 h after Coat 1`, `by the cure of Coat 1`. */
export function gapInWords(link: ItemRow): string {
  const before = live("step", text(link, "after_id"));
  if (!before) return "";
  const step = stepName(before);
  const least = amount(link, "min_gap_s") ?? 0;
  if (flag(link, "by_cure") && least > 0)
    return say("step.gap_after_cure_min", { step, span: span(least * 1000) });
  if (flag(link, "by_cure")) return say("step.gap_after_cure", { step });
  const most = amount(link, "max_gap_s");
  const min = span(least * 1000);
  const max = most === null ? "" : span(most * 1000);
  if (least > 0 && max) return say("step.gap_both", { min, max, step });
  if (max) return say("step.gap_max", { span: max, step });
  return least > 0 ? say("step.gap_min", { span: min, step }) : say("step.gap_after", { step });
}

function People({ row }: { row: StepRow }) {
  const crew = view.value.items("member").filter((one) => text(one, "role") !== "viewer");
  const free = crew.filter((one) => !row.assignees.includes(one.id));
  return (
    <fieldset class="field" data-testid="assign">
      <legend>{say("step.assign_title")}</legend>
      <div class="buttons">
        {row.assignees.map((id) => (
          <button
            type="button"
            class="button"
            key={id}
            aria-label={say("step.unassign", { name: memberName(id) })}
            aria-pressed="true"
            onClick={() => attempt(() => unassign(row.step.id, id), say("said.saved"))}
          >
            ✓ {memberName(id)}
          </button>
        ))}
        {free.map((one) => (
          <button
            type="button"
            class="button"
            key={one.id}
            aria-pressed="false"
            data-testid="assign-member"
            data-member={one.id}
            onClick={() => attempt(() => assign(row.step.id, one.id), say("said.saved"))}
          >
            {text(one, "name")}
          </button>
        ))}
      </div>
    </fieldset>
  );
}

const HOLDS = ["parts", "weather", "help", "question"] as const;

function Hold({ row }: { row: StepRow }) {
  const [open, setOpen] = useState(false);
  const [why, setWhy] = useState<(typeof HOLDS)[number]>("parts");
  const [words, setWords] = useState("");
  if (text(row.step, "held") || DONE.has(row.state)) return null;
  if (!open)
    return (
      <button type="button" class="button" onClick={() => setOpen(true)} data-testid="hold">
        {say("step.hold")}
      </button>
    );
  return (
    <div class="ask">
      <Choices
        label={say("step.hold_why")}
        value={why}
        options={HOLDS.map((value) => ({ value, label: sayOf("hold", value) }))}
        onPick={(value) => setWhy(value as typeof why)}
      />
      <TextField
        label={say("step.hold_text")}
        hint={say("go.optional")}
        value={words}
        onInput={setWords}
        most={500}
        testid="hold-text"
      />
      <div class="buttons">
        <button
          type="button"
          class="button"
          data-testid="hold-do"
          onClick={async () => {
            const done = await attempt(() => holdStep(row.step.id, why, words), say("said.held"));
            if (done) setOpen(false);
          }}
        >
          {say("step.hold_do")}
        </button>
        <button type="button" class="button" onClick={() => setOpen(false)}>
          {say("go.leave")}
        </button>
      </div>
    </div>
  );
}

/** Marks that are not the next thing to do: finished at once, opened again; the coat of a step that goes on. */
function Marks({ row }: { row: StepRow }) {
  const id = row.step.id;
  const mark = lastMarkOf(id)?.body.mark;
  const what = stepName(row.step);
  const done = mark === "finished" || mark === "signed_off";
  return (
    <div class="buttons">
      {done && (mark === "finished" || isOwner()) && (
        <button
          type="button"
          class="button"
          data-testid="do-reopen"
          onClick={() => attempt(() => markStep(id, "reopened"), say("said.reopened", { what }))}
        >
          {say("do.reopen")}
        </button>
      )}
      {!done && (
        <button
          type="button"
          class="button"
          data-testid="mark-finished"
          onClick={() => attempt(() => markStep(id, "finished"), say("said.finished", { what }))}
        >
          {say("do.mark_finished")}
        </button>
      )}
      <a class="button" href={to("log", "coat", id)}>
        {say("log.coat")}
      </a>
      <a class="button" href={to("log", "mix", id)}>
        {say("log.mix")}
      </a>
      <a class="button" href={to("log", "hours", id)}>
        {say("log.hours")}
      </a>
      <a class="button" href={to("sums", "all", id)} data-testid="step-sums">
        {say("log.sums")}
      </a>
    </div>
  );
}

function Order({ row, first, last }: { row: StepRow; first: boolean; last: boolean }) {
  const [asked, setAsked] = useState<-1 | 1 | null>(null);
  const id = row.step.id;
  const wrongBy = (direction: -1 | 1) => {
    const job_id = text(row.step, "job_id");
    const steps = plannedIn(job_id);
    return madeWrong(steps, movedIn(steps, id, direction), belowJob(job_id)).filter(isRefused);
  };
  const move = (direction: -1 | 1) => {
    if (wrongBy(direction).length > 0) return setAsked(direction);
    return attempt(() => moveStep(id, direction), say("said.saved"));
  };
  if (asked)
    return (
      <OrderOfMove
        found={wrongBy(asked)}
        onMove={() => moveStep(id, asked)}
        onLeave={() => setAsked(null)}
        leave={say("go.leave")}
      />
    );
  return (
    <div class="buttons">
      {!first && (
        <button type="button" class="button" onClick={() => move(-1)} data-testid="move-up">
          {say("step.move_up")}
        </button>
      )}
      {!last && (
        <button type="button" class="button" onClick={() => move(1)} data-testid="move-down">
          {say("step.move_down")}
        </button>
      )}
    </div>
  );
}

function Drop({ step }: { step: ItemRow }) {
  const [asking, setAsking] = useState(false);
  if (!isOwner() || !item("step", step.id)) return null;
  if (!asking)
    return (
      <button type="button" class="button button-line" onClick={() => setAsking(true)}>
        {say("go.drop")}
      </button>
    );
  return (
    <Ask
      question={say("step.drop_sure")}
      yes={say("go.drop")}
      onYes={() => attempt(() => drop("step", step.id), say("said.dropped"))}
      onNo={() => setAsking(false)}
    />
  );
}
