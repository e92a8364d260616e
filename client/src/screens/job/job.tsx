/** One job: its steps in order, its photos, and everything that was logged on it. `#/job/<id>` */
import { useState } from "preact/hooks";
import { Icon } from "../../parts/icon.tsx";
import { canWork, flag, item, stepRow, stepsOf, text, twinOf, zonePath } from "../../parts/know.ts";
import { Ask, PageHead, Slab } from "../../parts/page.tsx";
import { PhotoPick } from "../../parts/photo.tsx";
import { Records } from "../../parts/records.tsx";
import { recordsOfJob } from "../../parts/recordsof.ts";
import { go, to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { addPhoto, mirrorJob } from "../../store/acts/index.ts";
import { type ItemRow, view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { GoneJob } from "./gone.tsx";
import { JobForm } from "./jobform.tsx";
import { JobStep } from "./jobstep.tsx";
import { NewStep } from "./stepform.tsx";

export function JobScreen({ path }: { path: string[] }) {
  const [id = ""] = path;
  const job = item("job", id);
  if (job && flag(job, "gone")) return <GoneJob job={job} />;
  if (!job)
    return (
      <>
        <PageHead title={say("app.not_found")} otherwise={["work"]} />
        <p>{say("app.not_found_why")}</p>
      </>
    );
  return (
    <>
      <PageHead title={text(job, "title")} otherwise={["work"]} />
      <About job={job} />
      <div class="columns columns-two">
        <div>
          <Steps job={job} />
          <Change job={job} />
        </div>
        <div>
          <Log job={job} />
        </div>
      </div>
    </>
  );
}

function JobLink({ id, words }: { id: string; words: (title: string) => string }) {
  const title = text(item("job", id), "title");
  if (!title) return null;
  return (
    <p>
      <a class="line-link" href={to("job", id)}>
        {words(title)}
      </a>
    </p>
  );
}

/** Where it is, whether it may wait, and how it hangs together with other jobs. */
function About({ job }: { job: ItemRow }) {
  const mirrors = view.value.items("job").filter((row) => text(row, "mirror_of") === job.id);
  return (
    <div class="about">
      <p class="strong">{zonePath(text(job, "zone_id")) || say("work.no_zone")}</p>
      <p class="quiet">
        {say(flag(job, "afloat_ok") ? "work.afloat_mark" : "job.before_launch")}
        {view.value.waitingFor(job.id) && ` · ${say("sync.wait_mark")}`}
      </p>
      {text(job, "text") && <p class="step-how">{text(job, "text")}</p>}
      <JobLink
        id={text(job, "found_while")}
        words={(title) => say("job.found_while", { job: title })}
      />
      <JobLink
        id={text(job, "mirror_of")}
        words={(title) => say("job.mirror_of", { job: title })}
      />
      {mirrors.map((row) => (
        <JobLink
          key={row.id}
          id={row.id}
          words={() => say("job.mirrored_as", { job: zonePath(text(row, "zone_id")) })}
        />
      ))}
    </div>
  );
}

function Steps({ job }: { job: ItemRow }) {
  const steps = stepsOf(job.id);
  return (
    <Slab title={say("job.steps")} testid="steps">
      {steps.length === 0 && <p class="slab-note">{say("work.no_steps")}</p>}
      <ol>
        {steps.map((step, place) => (
          <JobStep
            key={step.id}
            row={stepRow(step)}
            number={place + 1}
            first={place === 0}
            last={place === steps.length - 1}
          />
        ))}
      </ol>
      {canWork() && <NewStep job_id={job.id} />}
    </Slab>
  );
}

function Change({ job }: { job: ItemRow }) {
  if (!canWork()) return null;
  return (
    <div class="job-change">
      <Mirror job={job} />
      <JobForm job={job} />
    </div>
  );
}

/** The same job for the other side, after saying what is copied. */
function Mirror({ job }: { job: ItemRow }) {
  const [asking, setAsking] = useState(false);
  const twin = twinOf(text(job, "zone_id"));
  if (!twin) return null;
  const zone = text(twin, "name");
  const copy = async () => {
    let id = "";
    const done = await attempt(
      async () => {
        id = await mirrorJob(job.id);
      },
      say("said.mirrored", { zone }),
    );
    if (done) go("job", id);
  };
  if (asking)
    return (
      <Ask
        question={
          <>
            <h3>{say("job.mirror_sure", { zone })}</h3>
            <p>{say("job.mirror_what", { n: stepsOf(job.id).length })}</p>
          </>
        }
        yes={say("job.mirror_do")}
        onYes={copy}
        onNo={() => setAsking(false)}
        testid="mirror"
      />
    );
  return (
    <button
      type="button"
      class="button button-wide"
      data-testid="mirror-job"
      onClick={() => setAsking(true)}
    >
      <Icon name="mirror" />
      {say("job.mirror", { zone })}
    </button>
  );
}

function Log({ job }: { job: ItemRow }) {
  const rows = recordsOfJob(job.id);
  const revealed = view.value.items("job").filter((row) => text(row, "found_while") === job.id);
  const keep = (photo: File) =>
    attempt(() => addPhoto(photo, { job_id: job.id }), say("said.photo"));
  return (
    <>
      {revealed.length > 0 && (
        <Slab title={say("job.revealed")} testid="revealed">
          <ul class="lines">
            {revealed.map((row) => (
              <li key={row.id} class="line">
                <JobLink
                  id={row.id}
                  words={(title) =>
                    [zonePath(text(row, "zone_id")), title].filter(Boolean).join(": ")
                  }
                />
              </li>
            ))}
          </ul>
        </Slab>
      )}
      <Slab title={say("job.records")} testid="records">
        {canWork() && (
          <div class="slab-note">
            <PhotoPick onPhoto={keep} testid="job-photo" />
            <div class="buttons">
              <a class="button" href={to("log", "note", job.id)}>
                <Icon name="note" />
                {say("log.note")}
              </a>
              <a class="button" href={to("log", "found", job.id)}>
                <Icon name="found" />
                {say("log.found")}
              </a>
            </div>
          </div>
        )}
        {rows.length ? <Records rows={rows} /> : <p class="slab-note">{say("job.records_none")}</p>}
      </Slab>
    </>
  );
}
