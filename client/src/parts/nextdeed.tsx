/** The one thing to do next with a step, as one large button. */
import { endCoat, markStep } from "../store/acts/logs.ts";
import { releaseStep } from "../store/acts/steps.ts";
import type { StepRow } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { say, sayOf } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import {
  canWork,
  coatsOn,
  isApplied,
  isOwner,
  lastMarkOf,
  openCoat,
  stepName,
  text,
  when,
} from "./know.ts";
import { to } from "./router.ts";
import { attempt } from "./said.tsx";

/** The last paint is on. With `done` the whole step is finished, so that what follows may go by its cure. */
async function end(row: StepRow, root_id: string, done: boolean): Promise<void> {
  await attempt(
    async () => {
      await endCoat(root_id);
      if (done) await markStep(row.step.id, "finished");
    },
    say("said.coat_ended", { when: when(now.value) }),
  );
}

const mark = (row: StepRow, what: "started" | "finished" | "signed_off" | "reopened") =>
  attempt(() => markStep(row.step.id, what), sayOf("said", what, { what: stepName(row.step) }));

function Deed(props: {
  testid: string;
  step: string;
  label: string;
  tone?: string;
  onTap: () => void;
}) {
  return (
    <button
      type="button"
      class="button button-main"
      data-tone={props.tone}
      data-testid={props.testid}
      data-step={props.step}
      onClick={props.onTap}
    >
      {props.label}
    </button>
  );
}

export function NextDeed({ row }: { row: StepRow }) {
  if (!canWork()) return null;
  const { step, state } = row;
  const id = step.id;
  const coat = openCoat(id);
  const finished = ["finished", "signed_off"].includes(String(lastMarkOf(id)?.body.mark));
  if (coat) return <EndCoat row={row} root_id={coat.root_id} />;
  if (state === "held")
    return (
      <button
        type="button"
        class="button button-wide"
        data-testid="do-release"
        data-step={id}
        onClick={() => attempt(() => releaseStep(id), say("said.released"))}
      >
        {say("do.release")}
      </button>
    );
  if (state === "waiting" || state === "signed_off") return null;
  if (finished)
    return isOwner() ? (
      <button
        type="button"
        class="button button-wide"
        data-testid="do-sign-off"
        data-step={id}
        onClick={() => mark(row, "signed_off")}
      >
        <Icon name="tick" />
        {say("do.sign_off")}
      </button>
    ) : null;
  if (coatsOn(id).length > 0 || (state === "under_way" && !isApplied(step)))
    return (
      <Deed
        testid="do-finish"
        step={id}
        label={say("do.finish")}
        onTap={() => mark(row, "finished")}
      />
    );
  if (isApplied(step))
    return (
      <a
        class="button button-main"
        data-tone="open"
        data-testid="do-start-coat"
        data-step={id}
        href={to("log", "coat", id)}
      >
        {sayOf("start", text(step, "kind"))}
      </a>
    );
  return (
    <Deed
      testid="do-start"
      step={id}
      tone="open"
      label={say("do.start")}
      onTap={() => mark(row, "started")}
    />
  );
}

function EndCoat({ row, root_id }: { row: StepRow; root_id: string }) {
  return (
    <>
      <Deed
        testid="do-end-coat"
        step={row.step.id}
        tone="closing"
        label={sayOf("end", text(row.step, "kind"))}
        onTap={() => end(row, root_id, true)}
      />
      <button
        type="button"
        class="button button-line"
        data-testid="do-end-coat-only"
        data-step={row.step.id}
        onClick={() => end(row, root_id, false)}
      >
        {say("do.end_more")}
      </button>
    </>
  );
}
