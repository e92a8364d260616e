/** All work, zone by zone; zones that are twins stand together. */
import { signal } from "@preact/signals";
import { Choices, More, Tick } from "../parts/fields.tsx";
import {
  canWork,
  DONE,
  flag,
  jobPlace,
  jobState,
  live,
  memberName,
  stepRow,
  stepsOf,
  text,
} from "../parts/know.ts";
import { PageHead, Slab } from "../parts/page.tsx";
import { Records } from "../parts/records.tsx";
import { recordsOfUnknown } from "../parts/recordsof.ts";
import { to } from "../parts/router.ts";
import { StateWord } from "../parts/stateword.tsx";
import { Tally } from "../parts/tally.tsx";
import { stepStates } from "../store/derived.ts";
import { type ItemRow, me, view } from "../store/view.ts";
import { number } from "../words/dates.ts";
import { say } from "../words/index.ts";

type Filter = "all" | "mine" | "found";

const filter = signal<Filter>("all");
const hideDone = signal(false);

export function WorkScreen() {
  const jobs = view.value.items("job").filter(wanted);
  const none = ({ all: "work.none", mine: "work.none_mine", found: "work.none_found" } as const)[
    filter.value
  ];
  return (
    <>
      <PageHead title={say("work.title")} long />
      <div class="work-top">
        <Choices
          label={say("work.filter")}
          value={filter.value}
          options={[
            { value: "all", label: say("work.all") },
            { value: "mine", label: say("work.mine") },
            { value: "found", label: say("work.found") },
          ]}
          onPick={(value) => {
            filter.value = value as Filter;
          }}
          testid="work-filter"
        />
        <Tick
          label={say("work.hide_done")}
          checked={hideDone.value}
          onTick={(checked) => {
            hideDone.value = checked;
          }}
        />
        <div class="buttons">
          {canWork() && (
            <>
              <a class="button" href={to("new")} data-testid="add-job">
                {say("work.add_job")}
              </a>
              <a class="button" href={to("zone", "new")} data-testid="add-zone">
                {say("work.add_zone")}
              </a>
            </>
          )}
          <a class="button" href={to("plan")} data-testid="to-plan">
            {say("plan.see")}
          </a>
        </div>
      </div>
      {jobs.length === 0 && <p class="empty">{say(none)}</p>}
      <Zones jobs={jobs} />
      <Gone />
    </>
  );
}

/** What was taken off the board, so that nothing that was entered on it is out of sight. */
function Gone() {
  const [jobs, zones] = [view.value.gone("job"), view.value.gone("zone")];
  const rows = recordsOfUnknown();
  const n = jobs.length + zones.length + rows.length;
  if (n === 0) return null;
  return (
    <More label={say("work.gone", { n })} testid="gone">
      <ul class="lines">
        {zones.map((zone) => (
          <li key={zone.id} class="line">
            <a class="line-link" href={to("zone", zone.id)} data-testid="gone-zone">
              {text(zone, "name")}
            </a>
          </li>
        ))}
        {jobs.map((job) => (
          <li key={job.id} class="line">
            <a class="line-link" href={to("job", job.id)} data-testid="gone-job" data-job={job.id}>
              {jobPlace(text(job, "zone_id"), text(job, "title"))}
            </a>
          </li>
        ))}
      </ul>
      {rows.length > 0 && <p>{say("work.gone_unknown")}</p>}
      {rows.length > 0 && <Records rows={rows} />}
    </More>
  );
}

function wanted(job: ItemRow): boolean {
  if (hideDone.value && DONE.has(jobState(job.id))) return false;
  if (filter.value === "found") return !!text(job, "found_while");
  if (filter.value === "mine")
    return stepsOf(job.id).some((step) =>
      view.value.members(step, "assignees").includes(me.value?.member_id ?? ""),
    );
  return true;
}

/** A zone and, beside it, its twin on the other side. */
type Pair = [ItemRow, ItemRow | undefined];

/** The children of a zone, twins brought together. */
function pairsUnder(parent_id: string): Pair[] {
  const rows = view.value
    .items("zone")
    .filter((zone) => (live("zone", text(zone, "parent_id"))?.id ?? "") === parent_id);
  const taken = new Set<string>();
  const pairs: Pair[] = [];
  for (const zone of rows) {
    if (taken.has(zone.id)) continue;
    const twin = rows.find((row) => row.id === text(zone, "twin_id"));
    taken.add(zone.id);
    if (twin && !taken.has(twin.id)) {
      taken.add(twin.id);
      pairs.push([zone, twin]);
    } else pairs.push([zone, undefined]);
  }
  return pairs;
}

/** The name of a zone, leading to its own screen for those who may change it. */
function ZoneName({ zone }: { zone: ItemRow }) {
  const area = view.value.field<number | null>(zone, "area_m2");
  const name = text(zone, "name");
  return (
    <span class="zone-link">
      {canWork() ? (
        <a href={to("zone", zone.id)} data-testid="zone" data-zone={zone.id}>
          {name}
        </a>
      ) : (
        <span>{name}</span>
      )}
      {area !== null && <span>{say("work.area", { area: number(area) })}</span>}
    </span>
  );
}

const pairName = ([zone, twin]: Pair) =>
  twin ? (
    say("work.twins", { one: text(zone, "name"), other: text(twin, "name") })
  ) : (
    <ZoneName zone={zone} />
  );

function Zones({ jobs }: { jobs: ItemRow[] }) {
  const loose = jobs.filter((job) => !live("zone", text(job, "zone_id")));
  return (
    <div class="zones">
      {pairsUnder("").map((pair) => (
        <Slab key={pair[0].id} title={pairName(pair)} testid="zone-slab">
          <ZoneBody pair={pair} jobs={jobs} depth={0} />
        </Slab>
      ))}
      {loose.length > 0 && (
        <Slab title={say("work.no_zone")}>
          <Jobs jobs={loose} />
        </Slab>
      )}
    </div>
  );
}

function ZoneBody({ pair, jobs, depth }: { pair: Pair; jobs: ItemRow[]; depth: number }) {
  const zones = pair.filter((zone) => zone !== undefined);
  return (
    <>
      {zones.map((zone) => (
        <div key={zone.id} class={zones.length > 1 ? "side" : ""}>
          {zones.length > 1 && (
            <h3>
              <ZoneName zone={zone} />
            </h3>
          )}
          <Jobs jobs={jobs.filter((job) => text(job, "zone_id") === zone.id)} />
          {pairsUnder(zone.id).map((inner) => (
            <section key={inner[0].id} class="inner">
              <h3 class={inner[1] ? "inner-name unseen" : "inner-name"}>{pairName(inner)}</h3>
              {depth < 6 && <ZoneBody pair={inner} jobs={jobs} depth={depth + 1} />}
            </section>
          ))}
        </div>
      ))}
    </>
  );
}

function Jobs({ jobs }: { jobs: ItemRow[] }) {
  if (jobs.length === 0) return null;
  return (
    <ul class="lines">
      {jobs.map((job) => (
        <JobLine key={job.id} job={job} />
      ))}
    </ul>
  );
}

function JobLine({ job }: { job: ItemRow }) {
  const steps = stepsOf(job.id);
  const done = steps.filter((step) => DONE.has(stepStates.value.get(step.id) ?? "")).length;
  const people = new Set(steps.flatMap((step) => stepRow(step).assignees));
  return (
    <li class="job-line" data-testid="job" data-job={job.id} data-state={jobState(job.id)}>
      <a class="job-link" href={to("job", job.id)}>
        {steps.length > 0 && <StateWord state={jobState(job.id)} />}
        <b>{text(job, "title")}</b>
      </a>
      {steps.length ? (
        <Tally done={done} all={steps.length} />
      ) : (
        <p class="quiet">{say("work.no_steps")}</p>
      )}
      <p class="quiet">
        {[
          people.size ? [...people].map(memberName).join(", ") : say("work.nobody"),
          text(job, "found_while") && say("work.found_mark"),
          flag(job, "afloat_ok") && say("work.afloat_mark"),
          view.value.waitingFor(job.id) && say("sync.wait_mark"),
        ]
          .filter(Boolean)
          .join(" · ")}
      </p>
    </li>
  );
}
