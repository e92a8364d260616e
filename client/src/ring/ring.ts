/**
 * Ringing of this phone while the page is open, with or without a signal.
 *
 * - What is due is computed anew each second and whenever the page comes back into sight.
 * - An alarm rings once for its due instant on this phone, whichever tab is open and however often it is loaded; the
 *   notice across the screen stays until it is seen.
 */
import { computed, effect, type ReadonlySignal, signal } from "@preact/signals";
import { me } from "../store/accounts.ts";
import { clocks, ringing, type WarningRow, warnings } from "../store/derived.ts";
import { now, nowMs } from "../store/now.ts";
import { claimRing, loadSnoozed, putOff } from "../store/snoozed.ts";
import { view } from "../store/view.ts";
import { type Alarm, noticeOf, VIBRATION } from "../sw/notice.ts";
import { hasPush, subscribePush } from "../sync/push.ts";
import { whenInWords } from "../words/dates.ts";
import { language, say, sayOf } from "../words/index.ts";
import { sound, soundReady, unlockSound } from "./sound.ts";
import { awake, keepAwake, watchSight } from "./wake.ts";

export interface RingState {
  sound_ready: boolean;
  notifications: "granted" | "denied" | "default" | "none";
  wake_lock: boolean;
  push: boolean;
}

const AWAKE_AHEAD_MS = 12 * 3600 * 1000;

const permission = signal<RingState["notifications"]>(leave());
const pushed = signal(false);

function leave(): RingState["notifications"] {
  return typeof Notification === "undefined" ? "none" : Notification.permission;
}

export const ringState: ReadonlySignal<RingState> = computed(() => ({
  sound_ready: soundReady.value,
  notifications: permission.value,
  wake_lock: awake.value,
  push: pushed.value,
}));

/** From a tap: unlocks the sound, asks for leave to notify, subscribes to push, rings once as a test. */
export async function getReady(): Promise<void> {
  await unlockSound();
  sound(true);
  navigator.vibrate?.([200]);
  if (typeof Notification !== "undefined" && Notification.permission === "default") {
    await Notification.requestPermission().catch(() => "default");
  }
  permission.value = leave();
  if (permission.value === "granted") pushed.value = await subscribePush();
}

/** Silence one alarm on this phone for some minutes; then it rings once more. */
export function snooze(alarm_id: string, minutes: number): void {
  void putOff(alarm_id, minutes);
  void closeNotices([alarm_id]);
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
  effect(() => {
    if (me.value) loadSnoozed();
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
}

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
  const { zone_name, job_title, step_title, product_name, at } = row.clock;
  const place = [zone_name, job_title, step_title || product_name].filter(Boolean).join(", ");
  const zone = view.peek().items("refit")[0]?.fields.time_zone as string | undefined;
  const by =
    at === null || !zone ? "" : `${say("alarm.by", { when: whenInWords(at, nowMs(), zone) })}`;
  await ringOnce(due_at, {
    alarm_id,
    title: sayOf("alarm_what", kind),
    body: [place, by].filter(Boolean).join("\n"),
    lang: language(),
  });
}

/** The server, or the worker, says that an alarm is due: rings unless it rang or was seen here. */
export async function ringFromServer(alarm: Alarm): Promise<void> {
  const row = warnings.peek().find((one) => one.alarm_id === alarm.alarm_id);
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

/** Take notifications away that have been dealt with, here or on another phone. */
async function closeNotices(alarm_ids: readonly string[]): Promise<void> {
  if (alarm_ids.length === 0) return;
  const registration = await navigator.serviceWorker?.getRegistration();
  for (const tag of alarm_ids) {
    const shown = (await registration?.getNotifications({ tag })) ?? [];
    for (const notice of shown) notice.close();
  }
}
