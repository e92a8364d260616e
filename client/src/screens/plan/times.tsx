/** The days ahead: as a timeline or as a list by day, by person or by zone, on a screen or on paper. */
import { signal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import { refit, text, yardZone } from "../../parts/know.ts";
import { PageHead } from "../../parts/page.tsx";
import type { Proposal } from "../../plan/types.ts";
import { wholePlan } from "../../store/plans.ts";
import { say } from "../../words/index.ts";
import { About } from "./about.tsx";
import { DayList } from "./daylist.tsx";
import { launchAt, shownProposal } from "./facts.ts";
import { at } from "./instants.ts";
import { Key } from "./key.tsx";
import { Paper } from "./paper.tsx";
import { PlanAge, PlanOffline } from "./standing.tsx";
import { type Looked, Timeline } from "./timeline.tsx";
import type { Grouping, Zoom } from "./view.ts";

const grouping = signal<Grouping>("person");
const zoom = signal<Zoom>("day");
const listed = signal(false);

/** The step that somebody asked about, and what to give the focus back to. */
const open = signal<{ step_id: string; from: HTMLElement } | null>(null);

export function TimesScreen() {
  const proposal = wholePlan.value ? shownProposal() : undefined;
  const printing = usePrinting();
  const looked: Looked = useRef<number | null>(null);
  useEffect(
    () => () => {
      open.value = null;
    },
    [],
  );
  return (
    <div class="plan plan-times">
      <PageHead title={say("plan.times")} otherwise={["plan"]} />
      <p class="plan-paper-head figures">
        {text(refit(), "name")} · {say("now.launch")}: {at(launchAt())}
      </p>
      <PlanOffline />
      <PlanAge />
      {yardZone() !== ownZone() && <p class="quiet">{say("time.zone", { zone: yardZone() })}</p>}
      {proposal && <Chosen />}
      {proposal &&
        (printing && !listed.value ? (
          <Paper proposal={proposal} grouping={grouping.value} />
        ) : (
          <Shown proposal={proposal} looked={looked} />
        ))}
      {open.value && (
        <About
          key={open.value.step_id}
          step={proposal?.steps.find(({ step_id }) => step_id === open.value?.step_id)}
          onClose={close}
        />
      )}
    </div>
  );
}

const ownZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone;

function close(): void {
  const from = open.peek()?.from;
  open.value = null;
  from?.focus();
}

/** Three switches in one row: on a phone the days themselves need the room. */
function Chosen() {
  const by_zone = grouping.value === "zone";
  return (
    <div class="plan-choices">
      <Switch
        words={say("plan.by_zone")}
        on={by_zone}
        testid="plan-by-zone"
        disabled={listed.value}
        onTap={() => {
          grouping.value = by_zone ? "person" : "zone";
        }}
      />
      <Switch
        words={say("plan.zoom_week")}
        on={zoom.value === "week"}
        testid="plan-week-wide"
        disabled={listed.value}
        onTap={() => {
          zoom.value = zoom.value === "week" ? "day" : "week";
        }}
      />
      <Switch
        words={say("plan.as_list")}
        on={listed.value}
        testid="plan-as-list"
        onTap={() => {
          listed.value = !listed.value;
        }}
      />
    </div>
  );
}

function Switch(props: {
  words: string;
  on: boolean;
  testid: string;
  onTap: () => void;
  disabled?: boolean;
}) {
  return (
    <button
      type="button"
      class="button"
      aria-pressed={props.on}
      disabled={props.disabled === true}
      data-testid={props.testid}
      onClick={props.onTap}
    >
      {props.words}
    </button>
  );
}

function Shown({ proposal, looked }: { proposal: Proposal; looked: Looked }) {
  const pick = (step_id: string, from: HTMLElement): void => {
    open.value = { step_id, from };
  };
  if (listed.value)
    return (
      <>
        <Print />
        <DayList proposal={proposal} onPick={pick} />
      </>
    );
  return (
    <>
      <Timeline
        key={`${grouping.value} ${zoom.value}`}
        proposal={proposal}
        grouping={grouping.value}
        zoom={zoom.value}
        looked={looked}
        onPick={pick}
      />
      <Key />
      <Print />
    </>
  );
}

function Print() {
  return (
    <button
      type="button"
      class="button plan-print-do"
      data-testid="plan-print"
      onClick={() => print()}
    >
      {say("plan.print")}
    </button>
  );
}

/** True while the page is put on paper, from this screen's button or from the browser's own. */
function usePrinting(): boolean {
  const [printing, setPrinting] = useState(false);
  useEffect(() => {
    const paper = matchMedia("print");
    const begin = (): void => setPrinting(true);
    const end = (): void => setPrinting(false);
    const change = (): void => setPrinting(paper.matches);
    addEventListener("beforeprint", begin);
    addEventListener("afterprint", end);
    paper.addEventListener("change", change);
    return () => {
      removeEventListener("beforeprint", begin);
      removeEventListener("afterprint", end);
      paper.removeEventListener("change", change);
    };
  }, []);
  return printing;
}
