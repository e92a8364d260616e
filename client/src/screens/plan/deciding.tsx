/** Which jobs decide the date, and which could wait until she floats. */
import { item, jobPlace, text } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { percentOf } from "../../plan/chance.ts";
import type { Forecast } from "../../plan/types.ts";
import { say } from "../../words/index.ts";
import { percent } from "./planwords.ts";

const MOST = 8;
const NAMED = 0.02;

function JobLink({ job_id }: { job_id: string }) {
  const job = item("job", job_id);
  return (
    <a class="line-link" href={to("job", job_id)}>
      {jobPlace(text(job, "zone_id"), text(job, "title"))}
    </a>
  );
}

/** The fewest jobs that, left until after the launch, give the date a good chance. */
export function UntilAfloat({ forecast }: { forecast: Forecast }) {
  const { to_move, p_with_move } = forecast;
  if (to_move.length === 0) return null;
  return (
    <Slab title={say("plan.afloat")} testid="plan-afloat">
      {p_with_move !== null && (
        <p class="slab-note strong figures">
          {say("plan.afloat_gives", {
            n: percentOf(p_with_move),
            before: percentOf(forecast.p_launch),
          })}
        </p>
      )}
      <ul class="lines">
        {to_move.map((id) => (
          <li key={id} data-testid="plan-afloat-job" data-job={id}>
            <JobLink job_id={id} />
          </li>
        ))}
      </ul>
    </Slab>
  );
}

export function Deciding({ forecast }: { forecast: Forecast }) {
  const jobs = [...forecast.criticality]
    .filter(({ p_critical }) => p_critical >= NAMED)
    .sort((a, b) => b.p_critical - a.p_critical)
    .slice(0, MOST);
  if (jobs.length === 0) return null;
  return (
    <Slab title={say("plan.deciding")} testid="plan-deciding">
      <p class="slab-note">{say("plan.deciding_why")}</p>
      <ul class="lines">
        {jobs.map(({ job_id, p_critical }) => (
          <li key={job_id} class="plan-deciding" data-testid="plan-deciding-job" data-job={job_id}>
            <JobLink job_id={job_id} />
            <span class="plan-share figures">
              <svg class="plan-share-bar" width="100%" height="14" aria-hidden="true">
                <rect class="plan-share-all" x="1" y="1" width="99%" height="12" />
                <rect
                  class="plan-share-part"
                  x="1"
                  y="1"
                  width={`${p_critical * 99}%`}
                  height="12"
                />
              </svg>
              <b>{percent(p_critical)}</b>
            </span>
          </li>
        ))}
      </ul>
    </Slab>
  );
}
