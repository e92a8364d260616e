/** The fields of a job, opened by a tap. */
import { useState } from "preact/hooks";
import { useEdit } from "../../parts/edit.ts";
import { Clash, More, Pick, TextField, Tick } from "../../parts/fields.tsx";
import { flag, isOwner, text, zoneLabel } from "../../parts/know.ts";
import { Ask } from "../../parts/page.tsx";
import { go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { drop } from "../../store/acts/index.ts";
import { type ItemRow, view } from "../../store/view.ts";
import { say } from "../../words/index.ts";

export function JobForm({ job }: { job: ItemRow }) {
  return (
    <More label={say("job.edit")} testid="job-edit">
      <Fields job={job} />
    </More>
  );
}

function Fields({ job }: { job: ItemRow }) {
  const [title, setTitle] = useState(text(job, "title"));
  const [zone, setZone] = useState(text(job, "zone_id"));
  const [details, setDetails] = useState(text(job, "text"));
  const [origin, setOrigin] = useState(text(job, "found_while"));
  const [afloat, setAfloat] = useState(flag(job, "afloat_ok"));
  const [asking, setAsking] = useState(false);
  const good = title.trim() !== "";
  const { clash, save } = useEdit(job, {
    title: title.trim(),
    zone_id: zone || null,
    text: details,
    found_while: origin || null,
    afloat_ok: afloat,
  });
  const jobs = view.value.items("job").filter((row) => row.id !== job.id);
  return (
    <>
      <TextField
        label={say("job.title")}
        value={title}
        onInput={setTitle}
        wrong={good ? undefined : say("problem.missing")}
        testid="job-title"
      />
      <Pick
        label={say("job.zone")}
        value={zone}
        options={view.value
          .items("zone")
          .map((row) => ({ value: row.id, label: zoneLabel(row.id) }))}
        none={say("work.no_zone")}
        onPick={setZone}
      />
      <TextField long label={say("job.text")} value={details} onInput={setDetails} />
      <Tick label={say("job.afloat_ok")} checked={afloat} onTick={setAfloat} />
      <Pick
        label={say("job.found_while_field")}
        value={origin}
        options={jobs.map((row) => ({ value: row.id, label: text(row, "title") }))}
        none={say("go.none")}
        onPick={setOrigin}
      />
      <Clash words={clash} />
      <button
        type="button"
        class="button button-main"
        onClick={() => good && save()}
        data-testid="job-save"
      >
        {say("go.save")}
      </button>
      {isOwner() && !asking && (
        <button
          type="button"
          class="button button-line"
          onClick={() => setAsking(true)}
          data-testid="job-drop"
        >
          {say("go.drop")}
        </button>
      )}
      {asking && (
        <Ask
          question={say("job.drop_sure")}
          yes={say("go.drop")}
          testid="job-drop-ask"
          onYes={async () => {
            if (await attempt(() => drop("job", job.id), say("said.dropped"))) go("work");
          }}
          onNo={() => setAsking(false)}
        />
      )}
    </>
  );
}
