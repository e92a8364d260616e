/** For the owner and those who look on: what stands before the launch, and the records as they arrive. */
import { useState } from "preact/hooks";
import { DONE, flag, item, jobPlace, jobState, stepName, stepsOf, text } from "../parts/know.ts";
import { Slab } from "../parts/page.tsx";
import { RECORD_KINDS, Records } from "../parts/records.tsx";
import { to } from "../parts/router.ts";
import { StateWord } from "../parts/stateword.tsx";
import { stepStates } from "../store/derived.ts";
import { type ItemRow, view } from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";

const LATEST = 12;
const MORE = 50;
const STANDS = 12;

export function Overview(_: { path: string[] }) {
  return (
    <>
      <Stands />
      <Latest />
    </>
  );
}

const isOpen = (job: ItemRow) => !DONE.has(jobState(job.id));

function Stands() {
  const open = view.value.items("job").filter(isOpen);
  const before = open.filter((job) => !flag(job, "afloat_ok"));
  const after = open.length - before.length;
  return (
    <Slab title={say("now.stands")} testid="stands">
      <p class="strong slab-note">
        {before.length ? say("now.stands_count", { n: before.length }) : say("now.stands_none")}
      </p>
      <ul class="lines">
        {before.slice(0, STANDS).map((job) => (
          <li key={job.id} class="line">
            {stepsOf(job.id).length > 0 && <StateWord state={jobState(job.id)} />}
            <a href={to("job", job.id)}>{jobPlace(text(job, "zone_id"), text(job, "title"))}</a>
            <HeldSteps job={job} />
          </li>
        ))}
      </ul>
      {before.length > STANDS && (
        <a class="button button-wide" href={to("work")}>
          {say("go.more", { n: before.length - STANDS })}
        </a>
      )}
      {after > 0 && <p class="quiet slab-note">{say("now.later", { n: after })}</p>}
    </Slab>
  );
}

/** Why a job does not go on, so that the owner can do something about it. */
function HeldSteps({ job }: { job: ItemRow }) {
  const held = stepsOf(job.id).filter((step) => stepStates.value.get(step.id) === "held");
  return (
    <>
      {held.map((step) => (
        <p key={step.id}>
          {stepName(item("step", step.id))}: {sayOf("hold", text(step, "held"))}
          {text(step, "held_text") && `, ${text(step, "held_text")}`}
        </p>
      ))}
    </>
  );
}

function Latest() {
  const [most, setMost] = useState(LATEST);
  const all = RECORD_KINDS.flatMap((kind) => view.value.records(kind)).sort((a, b) =>
    a.at < b.at ? 1 : -1,
  );
  const rows = all.slice(0, most);
  return (
    <Slab title={say("now.latest")} testid="latest">
      {rows.length ? (
        <Records rows={rows} place arrived />
      ) : (
        <p class="slab-note">{say("now.latest_none")}</p>
      )}
      {all.length > most && (
        <button
          type="button"
          class="button button-wide"
          onClick={() => setMost(most + MORE)}
          data-testid="latest-more"
        >
          {say("go.more", { n: all.length - most })}
        </button>
      )}
    </Slab>
  );
}
