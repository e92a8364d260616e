/** The frame around every screen, and which screen stands in it. Seldom seen screens are fetched when they are asked for. */
import type { ComponentType } from "preact";
import { useErrorBoundary, useState } from "preact/hooks";
import { Icon } from "../parts/icon.tsx";
import { canWork, myself, refit, text } from "../parts/know.ts";
import { Notice } from "../parts/notice.tsx";
import { route, to } from "../parts/router.ts";
import { SaidLine } from "../parts/said.tsx";
import { SyncLine } from "../parts/syncline.tsx";
import { takeUpdate, updateReady } from "../store/update.ts";
import { me } from "../store/view.ts";
import { say } from "../words/index.ts";
import { codeToShow } from "./code.ts";
import { JobScreen } from "./job/job.tsx";
import { LogScreen } from "./log/log.tsx";
import { NowScreen } from "./now.tsx";
import { WorkScreen } from "./work.tsx";

type Screen = ComponentType<{ path: string[] }>;

/** A screen that arrives a moment after it was asked for. */
function later(fetchScreen: () => Promise<Screen>): Screen {
  let arrived: Screen | null = null;
  return function Later({ path }) {
    const [screen, setScreen] = useState<{ it: Screen } | null>(arrived && { it: arrived });
    const [failed, setFailed] = useState(false);
    if (!screen && !failed)
      fetchScreen().then(
        (it) => {
          arrived = it;
          setScreen({ it });
        },
        () => setFailed(true),
      );
    if (failed) return <Broke />;
    return screen ? <screen.it path={path} /> : <p class="wait">{say("app.wait")}</p>;
  };
}

const Crew = later(async () => (await import("./crew/crew.tsx")).CrewScreen);
const Settle = later(async () => (await import("./settle.tsx")).SettleScreen);
const Zone = later(async () => (await import("./zone.tsx")).ZoneScreen);
const NewJob = later(async () => (await import("./newjob.tsx")).NewJobScreen);
const Welcome = later(async () => (await import("./welcome.tsx")).WelcomeScreen);

const SCREENS: Record<string, Screen> = {
  now: NowScreen,
  work: WorkScreen,
  job: JobScreen,
  log: LogScreen,
  crew: Crew,
  settle: Settle,
  zone: Zone,
  new: NewJob,
};

/** Places that need nobody to be signed in, or that add a second person. */
const DOORS = new Set(["join", "create", "recover", "welcome"]);

export function Shell() {
  const [first = "", ...rest] = route.value;
  const outside = me.value === null || DOORS.has(first) || codeToShow.value !== null;
  const Found = outside ? Welcome : (SCREENS[first] ?? NowScreen);
  return (
    <>
      <button type="button" class="skip unseen" onClick={skip}>
        {say("app.skip")}
      </button>
      <Notice />
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

function Broke() {
  return (
    <section class="problem" role="alert">
      <p>{say("app.broke")}</p>
      <button type="button" class="button" onClick={() => location.reload()}>
        {say("app.reload")}
      </button>
    </section>
  );
}

/** One broken screen does not take the others with it. */
function Guard({ children }: { children: preact.ComponentChildren }) {
  const [error] = useErrorBoundary((why) => console.error(why));
  return error ? <Broke /> : children;
}
