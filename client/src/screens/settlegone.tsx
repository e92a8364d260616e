/** Work that somebody did on a job while somebody else took the job off the board. */
import { goneInWords } from "../parts/gone.tsx";
import { authorName, isOwner, stampMs, stepName, text, when } from "../parts/know.ts";
import { Slab } from "../parts/page.tsx";
import { inWords } from "../parts/records.tsx";
import { recordsOn } from "../parts/recordsof.ts";
import { attempt } from "../parts/said.tsx";
import { keepStranded, letStrandedGo } from "../store/acts/index.ts";
import { type Stranded, stranded } from "../store/derived.ts";
import { lastTouch } from "../store/reckon/stranded.ts";
import type { ItemRow } from "../store/view.ts";
import { say } from "../words/index.ts";

export function StrandedWork() {
  if (stranded.value.length === 0) return null;
  return (
    <Slab title={say("settle.stranded")} testid="stranded">
      {stranded.value.map((one) => (
        <StrandedOne key={one.job_id} one={one} />
      ))}
    </Slab>
  );
}

function StrandedOne({ one }: { one: Stranded }) {
  const { job, steps } = one;
  const title = text(job, "title") || stepName(steps[0]);
  const keep = () => attempt(() => keepStranded(one, title), say("said.back"));
  const letGo = () => attempt(() => letStrandedGo(one), say("said.dropped"));
  return (
    <article class="matter" data-testid="stranded-one" data-job={one.job_id}>
      <h3>{job ? title : say("settle.stranded_unknown")}</h3>
      {job && <p class="quiet figures">{goneInWords(job)}</p>}
      <p>{say("settle.stranded_why")}</p>
      <ul class="values">
        {steps.map((step) => (
          <Step key={step.id} step={step} />
        ))}
      </ul>
      {isOwner() ? (
        <div class="buttons">
          <button type="button" class="button" onClick={keep} data-testid="job-back">
            {say(job ? "settle.job_back" : "settle.job_new")}
          </button>
          <button type="button" class="button" onClick={letGo} data-testid="steps-go">
            {say("settle.go_too")}
          </button>
        </div>
      ) : (
        <p class="quiet">{say("settle.owner_decides")}</p>
      )}
    </article>
  );
}

/** A step with who did what to it last, and what was logged on it. */
function Step({ step }: { step: ItemRow }) {
  const at = lastTouch(step);
  const words = { name: authorName(at), when: when(stampMs(at)) };
  return (
    <li>
      <p class="value">{stepName(step)}</p>
      {text(step, "text") && <p class="step-how">{text(step, "text")}</p>}
      <p class="quiet figures">
        {say(at === step.at ? "settle.step_added" : "settle.step_touched", words)}
      </p>
      {recordsOn((row) => row.body.step_id === step.id).map((row) => (
        <p key={row.id}>
          {say("settle.logged", {
            what: inWords(row),
            name: authorName(row.at),
            when: when(stampMs(row.at)),
          })}
        </p>
      ))}
    </li>
  );
}
