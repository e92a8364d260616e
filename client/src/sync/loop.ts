/**
 * When to exchange: soon after something was written, when the signal or the page comes back, when the server says that
 * something changed, and every minute while the page is open. Nothing here is waited for by a person.
 */

import { effect } from "@preact/signals";
import { markRevoked, me, othersHere, rememberNames } from "../store/accounts.ts";
import type { Copy } from "../store/copy.ts";
import { setHooks } from "../store/hooks.ts";
import { announce, catchUp, countComing, countPhotos, openCopy } from "../store/local.ts";
import { setClockOffset } from "../store/now.ts";
import { retryMissing } from "../store/photos.ts";
import { type Account, currentAccount } from "../store/session.ts";
import { setSyncState } from "../store/syncState.ts";
import type { Alarm } from "../sw/notice.ts";
import type { LiveEvent } from "./events.ts";
import { backoff } from "./exchange.ts";
import { startLive, stopLive } from "./live.ts";
import { askPlansQuietly } from "./plans.ts";
import { type TurnEnding, turn, turnsOf } from "./turn.ts";

const SOON_MS = 300;
const EVERY_MS = 60_000;

let timer: ReturnType<typeof setTimeout> | undefined;
let due_at = Number.POSITIVE_INFINITY;
let running: Promise<void> | null = null;
let again = false;
let failures = 0;
/** The server asked, at an instant of this phone's clock, to be left alone for so long. */
let asked = { at: 0, wait_ms: 0 };
let onAlarm: (alarm: Alarm) => void = () => {};

/** Start exchanging for whoever is signed in, now and after every change of person. */
export function startLoop(hooks: { alarm: typeof onAlarm }): void {
  onAlarm = hooks.alarm;
  setHooks({ sync: syncOnce, nudge });
  addEventListener("online", () => {
    setSyncState({ online: true });
    failures = 0;
    soon(0);
    listen();
  });
  addEventListener("offline", () => setSyncState({ online: false }));
  const wake = (): void => {
    listen();
    if (document.visibilityState !== "visible") return;
    void catchUp();
    soon(0);
  };
  for (const name of ["visibilitychange", "resume"]) document.addEventListener(name, wake);
  addEventListener("pageshow", (event: PageTransitionEvent) => event.persisted && wake());
  navigator.serviceWorker?.addEventListener("message", (event) => {
    if (event.data?.do === "sync") soon(0);
  });
  let device_id: string | undefined;
  effect(() => {
    const next = me.value?.device_id;
    if (next === device_id) return;
    device_id = next;
    failures = 0;
    asked = { at: 0, wait_ms: 0 };
    setSyncState({ trouble: "", last_at: null });
    queueMicrotask(() => {
      listen();
      soon(0);
    });
  });
}

/** Something was written down here. */
function nudge(): void {
  askForWaking();
  soon(SOON_MS);
}

/** Exchange after `wait_ms`, or earlier where that was asked for already. */
function soon(wait_ms: number): void {
  const at = Date.now() + Math.max(wait_ms, leftToWait());
  if (at >= due_at && due_at > Date.now()) return;
  clearTimeout(timer);
  due_at = at;
  timer = setTimeout(() => {
    due_at = Number.POSITIVE_INFINITY;
    void syncOnce();
  }, at - Date.now());
}

/** What is left of the wait that the server asked for; nothing where the clock was turned back since. */
function leftToWait(): number {
  const passed_ms = Date.now() - asked.at;
  return passed_ms < 0 ? 0 : Math.max(0, asked.wait_ms - passed_ms);
}

/** Let the browser wake the worker when the signal comes back, where it can. */
function askForWaking(): void {
  const ready = navigator.serviceWorker?.controller ? navigator.serviceWorker.ready : null;
  ready
    ?.then((registration) =>
      (registration as { sync?: { register(tag: string): Promise<void> } }).sync?.register("words"),
    )
    .catch(() => {});
}

/** One exchange; a second call while one runs asks for one more afterwards. Never throws. */
export function syncOnce(): Promise<void> {
  if (running) {
    again = true;
    return running;
  }
  setSyncState({ running: true });
  running = untilQuiet().finally(() => {
    running = null;
    setSyncState({ running: false });
  });
  return running;
}

async function untilQuiet(): Promise<void> {
  do {
    again = false;
    const [copy, account] = [openCopy(), currentAccount()];
    if (copy === null || account === null) return;
    if (account.key_revoked) {
      setSyncState({ trouble: "revoked" });
      await forOthers();
      return;
    }
    const ending = await mine(copy, account);
    await settle(ending, account);
    if (ending.kind !== "later") await forOthers();
  } while (again);
}

/** The turn of the person in front of the phone; the screens follow it. */
function mine(copy: Copy, account: Account): Promise<TurnEnding> {
  const shown = (): boolean => copy === openCopy();
  return turn(copy, account, {
    taken(numbers, whole) {
      if (!shown()) return;
      setClockOffset(copy.meta.clock_off_ms);
      setSyncState({ full: false });
      announce(numbers, whole);
      void countComing();
    },
    async worded() {
      if (!shown()) return;
      await rememberNames();
      setSyncState({ last_at: copy.nowMs() });
      retryMissing();
    },
  }).finally(() => (shown() ? countPhotos() : undefined));
}

/** What waits for the others who share this phone goes too, each person's under their own key. */
async function forOthers(): Promise<void> {
  try {
    for (const [account, ending] of await turnsOf(othersHere())) {
      if (ending.kind === "revoked") await markRevoked(account.device_id);
    }
  } catch (error) {
    // Another version of the client holds a copy: it waits for that person's own turn.
    console.warn(error);
  }
}

/** Draw the conclusions of an exchange, and set the time of the next. */
async function settle(ending: TurnEnding, account: Account): Promise<void> {
  if (ending.kind === "revoked") {
    await markRevoked(account.device_id);
    setSyncState({ trouble: "revoked" });
    stopLive();
    return;
  }
  if (ending.kind === "full") {
    setSyncState({ trouble: "", full: true });
    soon(EVERY_MS);
    return;
  }
  if (ending.kind === "done" || ending.kind === "too_old") {
    failures = 0;
    setSyncState({ trouble: ending.kind === "done" ? "" : "too_old", online: true });
    soon(EVERY_MS);
    return;
  }
  failures += 1;
  asked = { at: Date.now(), wait_ms: ending.wait_ms };
  const trouble = ending.offline ? "" : "server";
  setSyncState({ trouble, online: !ending.offline && navigator.onLine });
  soon(Math.min(EVERY_MS, backoff(failures, Math.random())));
}

/** Hold the live line while the page is in sight and somebody is signed in. */
function listen(): void {
  const account = currentAccount();
  const wanted = account && !account.key_revoked && document.visibilityState === "visible";
  stopLive();
  if (!wanted || !navigator.onLine) return;
  const { refit_id, key } = account;
  startLive({ refit_id, key, heard, opened: () => soon(SOON_MS) });
}

function heard({ event, data }: LiveEvent): void {
  if (event === "plans") void askPlansQuietly();
  if (event !== "changed" && event !== "alarm") return;
  try {
    const said = JSON.parse(data) as { seq?: number } & Partial<Alarm>;
    const known = openCopy()?.meta.cursor ?? 0;
    if (event === "changed" && (said.seq ?? Number.POSITIVE_INFINITY) > known) soon(SOON_MS);
    if (event === "alarm" && said.alarm_id) onAlarm({ ...said, alarm_id: said.alarm_id });
  } catch {
    soon(SOON_MS);
  }
}
