/** What is mine now, with its clocks; for the owner and those who look on also what stands open and what arrives. */
import { signal } from "@preact/signals";
import { ClockCard } from "../parts/clockcard.tsx";
import { Icon } from "../parts/icon.tsx";
import {
  canWork,
  flag,
  isOwner,
  lastMarkOf,
  openCoat,
  stepRow,
  text,
  today,
  yardZone,
} from "../parts/know.ts";
import { later } from "../parts/later.tsx";
import { PageHead, Slab } from "../parts/page.tsx";
import { to } from "../parts/router.ts";
import { attempt } from "../parts/said.tsx";
import { runningSources } from "../parts/sources.ts";
import { LaterLine, StepLine } from "../parts/steprow.tsx";
import { heardAt } from "../ring/heard.ts";
import { ringState } from "../ring/state.ts";
import { assign } from "../store/acts/steps.ts";
import { type ClockRow, clocks, myDay, type StepRow, stepStates } from "../store/derived.ts";
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

/** Says whether a clock is mine: what I laid or stirred, and the steps that I have; everybody's for the owner. */
function ownClock(): (row: ClockRow) => boolean {
  if (me.value?.role !== "hand") return () => true;
  const own = me.value.member_id;
  const mine = new Set(myDay.value.filter((row) => row.mine).map((row) => row.step.id));
  for (const link of view.value.items("link"))
    if (mine.has(text(link, "step_id"))) mine.add(text(link, "after_id"));
  return (row) => row.member_id === own || mine.has(row.step_id ?? "");
}

function Clocks() {
  const sources = runningSources(ownClock(), now.value);
  if (sources.length === 0) return null;
  return (
    <Slab title={say("now.clocks")} testid="clocks">
      {sources.map((source) => (
        <ClockCard key={source.root_id} source={source} />
      ))}
    </Slab>
  );
}

/** What I am at, whether or not somebody handed it to me: who starts a thing has it in hand. */
function isBusy(row: StepRow): boolean {
  if (row.state !== "under_way") return false;
  const start = openCoat(row.step.id) ?? lastMarkOf(row.step.id);
  return (
    row.mine || (start !== undefined && view.value.author(start.at)?.id === me.value?.member_id)
  );
}

function UnderWay() {
  const rows = myDay.value.filter(isBusy);
  if (rows.length === 0) return null;
  return (
    <Slab title={say("state.under_way")} testid="under-way">
      <StepList rows={rows} name="busy" />
    </Slab>
  );
}

function Rest() {
  if (me.value?.role === "viewer") return <Everybody />;
  const rows = myDay.value.filter((row) => !isBusy(row));
  const soon = rows.filter((row) => row.state !== "waiting");
  const mine = soon.filter((row) => row.mine);
  const free = soon.filter((row) => !row.mine);
  const later = rows.filter((row) => row.state === "waiting");
  return (
    <>
      {myDay.value.length === 0 && <Nothing />}
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
      {later.length > 0 && (
        <Slab title={say("now.comes_later")} testid="later-steps">
          <ul class="later">
            {later.map((row) => (
              <LaterLine key={row.step.id} row={row} />
            ))}
          </ul>
        </Slab>
      )}
      <DoneToday />
    </>
  );
}

const IN_HAND = new Set(["under_way", "curing", "held"]);

/** What all are at, for those who look on. */
function Everybody() {
  const rows = view.value
    .items("step")
    .filter((step) => IN_HAND.has(stepStates.value.get(step.id) ?? ""))
    .map(stepRow)
    .filter((row) => row.job && !flag(row.job, "gone"));
  return (
    <Slab title={say("now.in_hand")} testid="in-hand">
      {rows.length === 0 && <p class="slab-note">{say("now.in_hand_none")}</p>}
      <StepList rows={rows} name="hand" />
    </Slab>
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

/**
 * A phone that was never heard ringing, or that has not been unlocked for it since, says so: the one until somebody has
 * heard it once, the other where a clock could ring.
 */
function NotReady() {
  const unheard = heardAt.value === null;
  const locked = !ringState.value.sound_ready && clocks.value.some((row) => row.running);
  if (!canWork() || !(unheard || locked)) return null;
  return (
    <p class="not-ready" data-testid="not-ready">
      <Icon name="bell" />
      <span class="not-ready-words">{say(unheard ? "now.not_tried" : "now.not_ready")}</span>
      <a class="button" href={to("alarms")}>
        {say("now.get_ready")}
      </a>
    </p>
  );
}
