/** A job that was taken off the board: what was logged on it, and the way back. */
import { Gone } from "../../parts/gone.tsx";
import { text, zonePath } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { Records } from "../../parts/records.tsx";
import { recordsOfJob } from "../../parts/recordsof.ts";
import type { ItemRow } from "../../store/view.ts";
import { say } from "../../words/index.ts";

export function GoneJob({ job }: { job: ItemRow }) {
  const rows = recordsOfJob(job.id);
  return (
    <>
      <PageHead title={text(job, "title")} otherwise={["work"]} />
      <p class="strong">{zonePath(text(job, "zone_id")) || say("work.no_zone")}</p>
      <Gone row={job} />
      <Slab title={say("job.records")} testid="records">
        {rows.length ? <Records rows={rows} /> : <p class="slab-note">{say("job.records_none")}</p>}
      </Slab>
    </>
  );
}
