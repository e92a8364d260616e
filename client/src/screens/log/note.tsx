/** Words and pictures for the record of a job. */
import { useState } from "preact/hooks";
import { Pick, TextField, Tick } from "../../parts/fields.tsx";
import { jobPlace, text } from "../../parts/know.ts";
import { PhotoDraft, PhotoPick } from "../../parts/photo.tsx";
import { back, go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { addPhoto, correct, logNote } from "../../store/acts/index.ts";
import { view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { likelyJob } from "./found.tsx";
import type { LogForm } from "./log.tsx";

function JobPick({ value, onPick }: { value: string; onPick: (id: string) => void }) {
  const label = (job: Parameters<typeof text>[0]) =>
    jobPlace(text(job, "zone_id"), text(job, "title"));
  return (
    <Pick
      label={say("log.for")}
      value={value}
      options={view.value.items("job").map((job) => ({ value: job.id, label: label(job) }))}
      none={say("log.for_no_job")}
      onPick={onPick}
      testid="for-job"
    />
  );
}

export function NoteForm({ about, row }: LogForm) {
  const [job, setJob] = useState(row ? String(row.body.job_id ?? "") : about || likelyJob());
  const [words, setWords] = useState(String(row?.body.text ?? ""));
  const [missing, setMissing] = useState(false);
  const save = async () => {
    setMissing(!words.trim());
    if (!words.trim()) return;
    const done = row
      ? await attempt(
          () => correct("note", row.id, { text: words, job_id: job || null }),
          say("said.corrected"),
        )
      : await attempt(
          () => logNote({ text: words, ...(job ? { job_id: job } : {}) }),
          say("said.note"),
        );
    if (!done) return;
    if (row || about) back("now");
    else go("now");
  };
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <TextField
        long
        label={say("note.text")}
        value={words}
        onInput={setWords}
        wrong={missing ? say("problem.missing") : undefined}
        testid="note-text"
      />
      <button type="submit" class="button button-main" data-testid="note-save">
        {say("go.save")}
      </button>
      <JobPick value={job} onPick={setJob} />
    </form>
  );
}

export function PhotoForm({ about }: LogForm) {
  const [job, setJob] = useState(about || likelyJob());
  const [photo, setPhoto] = useState<File | null>(null);
  const [words, setWords] = useState("");
  const [untouched, setUntouched] = useState(false);
  const save = async () => {
    if (!photo) return;
    const place = { ...(job ? { job_id: job } : {}), ...(words ? { text: words } : {}) };
    if (await attempt(() => addPhoto(photo, place, untouched), say("said.photo"))) go("now");
  };
  return (
    <div class="form narrow">
      {photo ? (
        <PhotoDraft photo={photo} onDrop={() => setPhoto(null)} />
      ) : (
        <PhotoPick onPhoto={setPhoto} testid="photo-pick" />
      )}
      <TextField
        label={say("photo.text")}
        hint={say("go.optional")}
        value={words}
        onInput={setWords}
        most={500}
        testid="photo-text"
      />
      <JobPick value={job} onPick={setJob} />
      <button
        type="button"
        class="button button-main"
        disabled={!photo}
        onClick={save}
        data-testid="photo-save"
      >
        {say("go.save")}
      </button>
      <Tick
        label={say("photo.untouched")}
        hint={say("photo.untouched_why")}
        checked={untouched}
        onTick={setUntouched}
        testid="photo-untouched"
      />
    </div>
  );
}
