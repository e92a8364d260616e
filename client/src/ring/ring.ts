/**
 * Ringing of this phone while the page is open, with or without a signal.
 *
 * - What is due is computed anew each second, at the very instant at which something falls due, and whenever the page
 *   comes back into sight.
 * - An alarm rings once for its due instant on this phone, whichever tab is open and however often it is loaded; the
 *   notice across the screen stays until it is seen.
 */
import { computed, effect } from "@preact/signals";
import { byWhen, byWords, placeOf } from "../parts/alarmwords.ts";
import { me } from "../store/accounts.ts";
import { clocks } from "../store/derived.ts";
import { now, nowMs, tick } from "../store/now.ts";
import { claimRing } from "../store/snoozed.ts";
import { askTold } from "../store/told.ts";
import { ringing, type WarningRow, warnings } from "../store/warnings.ts";
import { type Alarm, isWithdrawn, noticeOf, VIBRATION } from "../sw/notice.ts";
import { hasPush, subscribePush } from "../sync/push.ts";
import { language, say, sayOf } from "../words/index.ts";
import { readHeard } from "./heard.ts";
import { closeNotices } from "./snooze.ts";
import { sound, unlockSound } from "./sound.ts";
import { leave, permission, pushed } from "./state.ts";
import { keepAwake, watchSight } from "./wake.ts";

/** Timers are not made for longer; the next second looks again. */
const LONGEST_WAIT_MS = 3600 * 1000;
const AWAKE_AHEAD_MS = 12 * 3600 * 1000;

/** From a tap: unlocks the sound, asks for leave to notify, subscribes to push, rings once as a test. */
export async function getReady(): Promise<void> {
  await unlockSound();
  sound(true);
  navigator.vibrate?.([200]);
  if (typeof Notification !== "undefined" && Notification.permission === "default") {
    await Notification.requestPermission().catch(() => "default");
  }
  permission.value = leave();
  if (permission.value !== "granted") return;
  await showTest();
  pushed.value = await subscribePush();
}

/** Show what an alarm looks like when the page is not in sight. */
async function showTest(): Promise<void> {
  const registration = await navigator.serviceWorker?.getRegistration();
  const options = { tag: "ring-test", silent: true };
  await registration?.showNotification(say("ring.notice_test"), options).catch(() => {});
}

/** Start to ring for whoever is signed in. */
export function startRinging(): void {
  watchSight();
  addEventListener("pointerdown", () => void unlockSound(), { once: true });
  hasPush().then(
    (has) => {
      pushed.value = has;
    },
    () => {},
  );
  readHeard().catch((error: unknown) => console.warn(error));
  effect(() => {
    if (me.value) void askTold();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void askTold();
  });
  let shown: string[] = [];
  effect(() => {
    const rows = ringing.value;
    for (const row of rows) void ringRow(row);
    const here = rows.map((row) => row.alarm_id);
    void closeNotices(shown.filter((id) => !here.includes(id)));
    shown = here;
  });
  effect(() => keepAwake(soonDue.value));
  let timer: ReturnType<typeof setTimeout> | undefined;
  effect(() => {
    clearTimeout(timer);
    const wait_ms = nextDue.value - nowMs();
    if (wait_ms < LONGEST_WAIT_MS) timer = setTimeout(tick, Math.max(0, wait_ms));
  });
}

/** When the next thing falls due for anybody who may be here; infinity where nothing does. */
const nextDue = computed(() => {
  const ahead = warnings.value.map((row) => row.due_at).filter((at) => at > now.value);
  return Math.min(...ahead);
});

/** A pot is running, or something that I am to be warned of is due within half a day. */
const soonDue = computed(() => {
  const own = me.value?.member_id ?? "";
  const until = now.value + AWAKE_AHEAD_MS;
  const pot = clocks.value.some((row) => row.source === "mix" && row.running);
  const ahead = (row: WarningRow): boolean => row.due_at > now.value && row.due_at < until;
  return pot || warnings.value.some((row) => ahead(row) && row.recipients.includes(own));
});

async function ringRow(row: WarningRow): Promise<void> {
  const { alarm_id, kind, due_at } = row;
  const lines = [placeOf(row), byWords(byWhen(row)), sayOf("alarm_else", kind)];
  await ringOnce(due_at, {
    alarm_id,
    title: sayOf("alarm_what", kind),
    body: lines.filter(Boolean).join("\n"),
    lang: language(),
  });
}

/**
 * The server, or the worker, says that an alarm is due: rings unless it rang or was seen here. What is not mine by the
 * rows that are here came from somebody who did not see it: the server is asked. What holds no longer is taken away.
 */
export async function ringFromServer(alarm: Alarm): Promise<void> {
  const own = me.peek()?.member_id ?? "";
  const row = warnings.peek().find((one) => one.alarm_id === alarm.alarm_id);
  if (!row?.recipients.includes(own) || isWithdrawn(alarm)) void askTold();
  if (isWithdrawn(alarm)) return closeNotices([alarm.alarm_id]);
  if (row?.seen) return;
  const due_at = alarm.due_at ? Date.parse(alarm.due_at) : nowMs();
  const title = alarm.title ?? (alarm.kind ? sayOf("alarm_what", alarm.kind) : undefined);
  await ringOnce(due_at, title === undefined ? alarm : { ...alarm, title });
}

async function ringOnce(due_at: number, alarm: Alarm): Promise<void> {
  if (!(await claimRing(alarm.alarm_id, due_at))) return;
  const { dataset } = document.documentElement;
  dataset.rang = String(Number(dataset.rang ?? 0) + 1);
  sound();
  navigator.vibrate?.(VIBRATION);
  if (document.visibilityState === "visible" || leave() !== "granted") return;
  const registration = await navigator.serviceWorker?.getRegistration();
  const [title, options] = noticeOf(alarm, false);
  await registration?.showNotification(title, options);
}
