/** What is mine now, with its clocks; for the owner and those who look on also what stands open and what arrives. */
import { signal } from "@preact/signals";
import { ClockCard, runningSources } from "../parts/clockcard.tsx";
import { Icon } from "../parts/icon.tsx";
import { canWork, isOwner, text, today, yardZone } from "../parts/know.ts";
import { later } from "../parts/later.tsx";
import { PageHead, Slab } from "../parts/page.tsx";
import { to } from "../parts/router.ts";
import { attempt } from "../parts/said.tsx";
import { StepLine } from "../parts/steprow.tsx";
import { ringState } from "../ring/ring.ts";
import { assign } from "../store/acts/index.ts";
import { clocks, myDay, type StepRow } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { me, view } from "../store/view.ts";
import { dayOf, longDay, timeOf } from "../words/dates.ts";
import { type Key, say } from "../words/index.ts";
import { Launch } from "./launch.tsx";

const Overview = later(async () => (await import("./overview.tsx")).Overview);

const FEW = 6;
const showAll = signal<Record<string, boolean>>({});

export function NowScreen() {
  const overview = me.value?.role !== "hand";
  return (
    <>
      <PageHead title={say("now.title")}>
        <p class="today figures">
          {longDay(now.value, yardZone())} <b>{timeOf(now.value, yardZone())}</b>
        </p>
      </PageHead>
      <NotReady />
      <div class={overview ? "columns columns-three" : "columns columns-two"}>
        <div>
          {overview && <Launch />}
          <UnderWay />
          <Clocks />
        </div>
        <div>
          <Rest />
        </div>
        {overview && (
          <div>
            <Overview path={[]} />
          </div>
        )}
      </div>
    </>
  );
}

/** Clocks of what I laid or stirred and of the steps that I have; everybody's for the owner. */
function myClocks() {
  if (me.value?.role !== "hand") return clocks.value;
  const own = me.value.member_id;
  const mine = new Set(myDay.value.filter((row) => row.mine).map((row) => row.step.id));
  for (const link of view.value.items("link"))
    if (mine.has(text(link, "step_id"))) mine.add(text(link, "after_id"));
  return clocks.value.filter((row) => row.member_id === own || mine.has(row.step_id ?? ""));
}

function Clocks() {
  const sources = runningSources(myClocks());
  if (sources.length === 0) return null;
  return (
    <Slab title={say("now.clocks")} testid="clocks">
      {sources.map((source) => (
        <ClockCard key={source.root_id} source={source} />
      ))}
    </Slab>
  );
}

const isBusy = (row: StepRow) => row.state === "under_way";

function UnderWay() {
  const rows = myDay.value.filter((row) => isBusy(row) && row.mine);
  if (rows.length === 0) return null;
  return (
    <Slab title={say("state.under_way")} testid="under-way">
      <StepList rows={rows} name="busy" />
    </Slab>
  );
}

function Rest() {
  const rows = myDay.value.filter((row) => row.state !== "finished" && row.state !== "signed_off");
  const mine = rows.filter((row) => row.mine && !isBusy(row));
  const free = rows.filter((row) => !row.mine);
  return (
    <>
      {rows.length === 0 && <Nothing />}
      {mine.length > 0 && (
        <Slab title={say("now.mine")} testid="my-steps">
          <StepList rows={mine} name="mine" />
        </Slab>
      )}
      {free.length > 0 && (
        <Slab title={say("now.free_title")} testid="free-steps">
          <StepList rows={free} name="free" />
        </Slab>
      )}
      <DoneToday />
    </>
  );
}

function StepList({ rows, name }: { rows: StepRow[]; name: string }) {
  const all = showAll.value[name] === true;
  const shown = all ? rows : rows.slice(0, FEW);
  return (
    <>
      <ul>
        {shown.map((row) => (
          <StepLine key={row.step.id} row={row} place>
            {!row.mine && canWork() && row.assignees.length === 0 && <Take step_id={row.step.id} />}
          </StepLine>
        ))}
      </ul>
      {rows.length > shown.length && (
        <button
          type="button"
          class="button button-wide"
          onClick={() => {
            showAll.value = { ...showAll.value, [name]: true };
          }}
        >
          {say("go.more", { n: rows.length - shown.length })}
        </button>
      )}
    </>
  );
}

function Take({ step_id }: { step_id: string }) {
  const own = me.value?.member_id ?? "";
  return (
    <button
      type="button"
      class="button button-line"
      data-testid="do-take"
      data-step={step_id}
      onClick={() => attempt(() => assign(step_id, own), say("said.taken"))}
    >
      {say("do.take")}
    </button>
  );
}

function Nothing() {
  const empty = view.value.items("job").length === 0;
  const [title, why]: [Key, Key] =
    empty && isOwner()
      ? ["now.start_here", "now.start_here_why"]
      : ["now.nothing", "now.nothing_why"];
  return (
    <section class="empty" data-testid="nothing">
      <h2>{say(title)}</h2>
      <p>{say(why)}</p>
      <div class="buttons">
        {empty && isOwner() && (
          <>
            <a class="button" href={to("zone", "new")}>
              <Icon name="add" />
              {say("work.add_zone")}
            </a>
            <a class="button" href={to("new")}>
              <Icon name="add" />
              {say("now.new_job")}
            </a>
          </>
        )}
        <a class="button" href={to("work")}>
          <Icon name="work" />
          {say("now.nothing_go")}
        </a>
      </div>
    </section>
  );
}

function DoneToday() {
  const own = me.value?.member_id;
  const day = today();
  const done = view.value
    .records("mark")
    .filter(
      (row) =>
        row.body.mark === "finished" &&
        view.value.author(row.at)?.id === own &&
        dayOf(Date.parse(String(row.body.marked_at)), yardZone()) === day,
    ).length;
  return done > 0 ? <p class="done-today">{say("now.done_today", { n: done })}</p> : null;
}

/** A phone that has not been unlocked for ringing says so, where a clock could ring. */
function NotReady() {
  if (!canWork() || ringState.value.sound_ready || clocks.value.every((row) => !row.running))
    return null;
  return (
    <p class="not-ready" data-testid="not-ready">
      <Icon name="bell" />
      <span class="not-ready-words">{say("now.not_ready")}</span>
      <a class="button" href={to("crew")}>
        {say("now.get_ready")}
      </a>
    </p>
  );
}
