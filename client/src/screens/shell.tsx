/** The frame around every screen, and which screen stands in it. All but the first are fetched when they are asked for. */
import { useErrorBoundary } from "preact/hooks";
import { Icon } from "../parts/icon.tsx";
import { canWork, myself, refit, text } from "../parts/know.ts";
import { Broke, later, type Screen } from "../parts/later.tsx";
import { overall } from "../parts/overall.ts";
import { route, to } from "../parts/router.ts";
import { SaidLine } from "../parts/said.tsx";
import { SyncLine } from "../parts/syncline.tsx";
import { takeUpdate, updateReady } from "../store/update.ts";
import { me } from "../store/view.ts";
import { say } from "../words/index.ts";
import { codeToShow } from "./code.ts";
import { NowScreen } from "./now.tsx";

const Work = later(async () => (await import("./work.tsx")).WorkScreen);
const Job = later(async () => (await import("./job/door.ts")).jobScreen());
const Log = later(async () => (await import("./log/log.tsx")).LogScreen);
const Alarms = later(async () => (await import("./alarms/alarms.tsx")).AlarmsScreen);
const Crew = later(async () => (await import("./crew/crew.tsx")).CrewScreen);
const Settle = later(async () => (await import("./settle.tsx")).SettleScreen);
const Zone = later(async () => (await import("./zone.tsx")).ZoneScreen);
const NewJob = later(async () => (await import("./newjob.tsx")).NewJobScreen);
const Sums = later(async () => (await import("./sums/door.ts")).sumsScreen());
const Product = later(async () => (await import("./product/door.ts")).productScreen());
const Plan = later(async () => (await import("./plan/plan.tsx")).PlanScreen);
const Welcome = later(async () => (await import("./welcome.tsx")).WelcomeScreen);

const SCREENS: Record<string, Screen> = {
  now: NowScreen,
  work: Work,
  job: Job,
  log: Log,
  crew: Crew,
  alarms: Alarms,
  settle: Settle,
  zone: Zone,
  new: NewJob,
  sums: Sums,
  product: Product,
  plan: Plan,
};

/** Places that need nobody to be signed in, or that add a second person. */
const DOORS = new Set(["join", "create", "recover", "welcome"]);

/** Places of those who work: who looks on is led to the work itself. */
const WORKPLACES = new Set(["new", "zone"]);

function screenAt(first: string): Screen {
  if (WORKPLACES.has(first) && !canWork()) return Work;
  return SCREENS[first] ?? NowScreen;
}

export function Shell() {
  const [first = "", ...rest] = route.value;
  const outside = me.value === null || DOORS.has(first) || codeToShow.value !== null;
  const Found = outside ? Welcome : screenAt(first);
  const Notice = overall.value;
  return (
    <>
      <button type="button" class="skip unseen" onClick={skip}>
        {say("app.skip")}
      </button>
      {Notice && <Notice />}
      {!outside && <Head />}
      {updateReady.value && <Offer />}
      {!outside && <Planks here={first || "now"} />}
      <main
        id="main"
        tabIndex={-1}
        class="board"
        data-testid={`screen-${outside ? "welcome" : first || "now"}`}
      >
        <Guard key={`${route.value.join("/")}`}>
          <Found path={outside ? route.value : rest} />
        </Guard>
      </main>
      <SaidLine />
    </>
  );
}

function skip(): void {
  document.getElementById("main")?.focus();
}

function Head() {
  return (
    <header>
      <div class="head">
        <p class="head-name">{text(refit(), "name") || say("app.name")}</p>
        <a class="head-who" href={to("crew")} data-testid="nav-crew">
          <Icon name="crew" />
          <span>{text(myself(), "name") || say("nav.crew")}</span>
        </a>
      </div>
      <SyncLine />
    </header>
  );
}

function Planks({ here }: { here: string }) {
  const mark = (name: string) => (here === name ? ("page" as const) : undefined);
  return (
    <nav class="planks" aria-label={say("nav.label")}>
      <a href={to("now")} aria-current={mark("now")} data-testid="nav-now">
        <Icon name="now" />
        <span>{say("nav.now")}</span>
      </a>
      <a href={to("work")} aria-current={mark("work")} data-testid="nav-work">
        <Icon name="work" />
        <span>{say("nav.work")}</span>
      </a>
      {canWork() && (
        <a class="plank-log" href={to("log")} aria-current={mark("log")} data-testid="nav-log">
          <Icon name="log" />
          <span>{say("nav.log")}</span>
        </a>
      )}
    </nav>
  );
}

function Offer() {
  return (
    <section class="offer" data-testid="new-version">
      <p>{say("app.new_version")}</p>
      <button type="button" class="button" onClick={takeUpdate}>
        {say("app.take_it")}
      </button>
    </section>
  );
}

/** One broken screen does not take the others with it. */
function Guard({ children }: { children: preact.ComponentChildren }) {
  const [error] = useErrorBoundary((why) => console.error(why));
  return error ? <Broke /> : children;
}
