/** A new job: a title and a place; its steps are added on the job's own screen. */
import { useState } from "preact/hooks";
import { Pick, TextField, Tick } from "../parts/fields.tsx";
import { zoneLabel } from "../parts/know.ts";
import { PageHead } from "../parts/page.tsx";
import { attempt } from "../parts/said.tsx";
import { createJob } from "../store/acts/index.ts";
import { view } from "../store/view.ts";
import { say } from "../words/index.ts";

export function NewJobScreen() {
  const [title, setTitle] = useState("");
  const [zone, setZone] = useState("");
  const [details, setDetails] = useState("");
  const [afloat, setAfloat] = useState(false);
  const [missing, setMissing] = useState(false);
  const save = async () => {
    setMissing(!title.trim());
    if (!title.trim()) return;
    const body = { title: title.trim(), zone_id: zone || null, text: details, afloat_ok: afloat };
    let id = "";
    const done = await attempt(async () => {
      id = await createJob(body);
    }, say("said.saved"));
    if (done) location.replace(`#/job/${id}`);
  };
  return (
    <>
      <PageHead title={say("job.new")} otherwise={["work"]} />
      <form
        class="form narrow"
        onSubmit={(event) => {
          event.preventDefault();
          save();
        }}
      >
        <TextField
          label={say("job.title")}
          hint={say("job.title_hint")}
          value={title}
          onInput={setTitle}
          wrong={missing ? say("problem.missing") : undefined}
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
          testid="job-zone"
        />
        <TextField long label={say("job.text")} value={details} onInput={setDetails} />
        <Tick
          label={say("job.afloat_ok")}
          checked={afloat}
          onTick={setAfloat}
          testid="job-afloat"
        />
        <button type="submit" class="button button-main" data-testid="save">
          {say("go.save")}
        </button>
      </form>
    </>
  );
}
