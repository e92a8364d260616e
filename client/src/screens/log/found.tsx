/** Work that nobody knew about: what, where, found while doing what; and a look at the other side. */
import { useState } from "preact/hooks";
import { Pick, TextField, Tick } from "../../parts/fields.tsx";
import { item, text, twinOf } from "../../parts/know.ts";
import { PhotoDraft, PhotoPick } from "../../parts/photo.tsx";
import { go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { addPhoto, createJob, mirrorJob } from "../../store/acts/index.ts";
import { view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import type { LogForm } from "./log.tsx";
import { likelyStep, ZonePick } from "./places.tsx";

/** The job that a person is at. */
export const likelyJob = () => text(item("step", likelyStep()), "job_id");

export function FoundForm({ about }: LogForm) {
  const [origin, setOrigin] = useState(about || likelyJob());
  const [zone, setZone] = useState(() => text(item("job", origin), "zone_id"));
  const [title, setTitle] = useState("");
  const [photo, setPhoto] = useState<File | null>(null);
  const [both, setBoth] = useState(false);
  const [missing, setMissing] = useState(false);
  const twin = twinOf(zone);
  const save = async () => {
    setMissing(!title.trim());
    if (!title.trim()) return;
    const mirror = both && twin !== undefined;
    const done = await attempt(
      async () => {
        const id = await createJob({
          title: title.trim(),
          zone_id: zone || null,
          found_while: origin || null,
          steps: [{ kind: "inspect" }],
        });
        if (photo) await addPhoto(photo, { job_id: id });
        if (mirror) await mirrorJob(id);
      },
      say(mirror ? "said.found_both" : "said.found"),
    );
    if (done) go("work");
  };
  const pickOrigin = (id: string) => {
    setOrigin(id);
    if (!zone) setZone(text(item("job", id), "zone_id"));
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
        label={say("found.what")}
        hint={say("found.what_hint")}
        value={title}
        onInput={setTitle}
        wrong={missing ? say("problem.missing") : undefined}
        testid="found-title"
      />
      {photo ? (
        <PhotoDraft photo={photo} onDrop={() => setPhoto(null)} />
      ) : (
        <PhotoPick onPhoto={setPhoto} testid="found-photo" />
      )}
      <ZonePick value={zone} onPick={setZone} none={say("work.no_zone")} />
      {twin && (
        <Tick
          label={say("found.both")}
          hint={say("found.both_hint", { zone: text(twin, "name") })}
          checked={both}
          onTick={setBoth}
          testid="found-both"
        />
      )}
      <Pick
        label={say("found.while")}
        value={origin}
        options={view.value
          .items("job")
          .map((job) => ({ value: job.id, label: text(job, "title") }))}
        none={say("go.none")}
        onPick={pickOrigin}
        testid="found-while"
      />
      <button type="submit" class="button button-main" data-testid="found-save">
        {say("go.save")}
      </button>
    </form>
  );
}
