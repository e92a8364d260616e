/** A job that was taken off the board: what was logged on it, and the way back. */
import { isOwner, text, zonePath } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { Records } from "../../parts/records.tsx";
import { recordsOfJob } from "../../parts/recordsof.ts";
import { attempt } from "../../parts/said.tsx";
import { bringBack } from "../../store/acts/index.ts";
import type { ItemRow } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { goneInWords } from "../settlegone.tsx";

export function GoneJob({ job }: { job: ItemRow }) {
  const rows = recordsOfJob(job.id);
  return (
    <>
      <PageHead title={text(job, "title")} otherwise={["work"]} />
      <p class="strong">{zonePath(text(job, "zone_id")) || say("work.no_zone")}</p>
      <p data-testid="gone-by">{goneInWords(job)}</p>
      {isOwner() && (
        <button
          type="button"
          class="button button-main"
          data-testid="bring-back"
          onClick={() => attempt(() => bringBack("job", job.id), say("said.back"))}
        >
          {say("job.bring_back")}
        </button>
      )}
      <Slab title={say("job.records")} testid="records">
        {rows.length ? <Records rows={rows} /> : <p class="slab-note">{say("job.records_none")}</p>}
      </Slab>
    </>
  );
}
