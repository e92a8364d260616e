/**
 * What the server told this person, as far as it could be asked: alarms that came from somebody else, who was told when,
 * and what was missed. Without a signal the last answer stands, also after a reload.
 */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { me } from "./accounts.ts";
import { isSettled } from "./alarm_marks.ts";
import { call } from "./http.ts";
import { keepAnswer, keptAnswer } from "./kept.ts";

export interface Telling {
  member_id: string;
  told_at: string;
  seen_at: string | null;
}

/** One alarm that could not be told in time. */
export interface Missed {
  alarm_id: string;
  kind: string;
  due_at: string;
  product?: string;
  zone?: string;
  step?: string;
  job?: string;
}

export interface Told {
  alarm_id: string;
  kind: string;
  due_at: string;
  useless_after: string;
  params: Record<string, string | number | boolean | string[] | Missed[]>;
  state: "due" | "told" | "seen" | "done" | "missed";
  told_at: string | null;
  trace: Telling[];
}

export const MISSED = "missed_alarms";
const NAME = "told";

const answer = signal<{ member_id: string; alarms: readonly Told[] }>({
  member_id: "",
  alarms: [],
});

/** My alarms as the server knows them. */
export const told: ReadonlySignal<readonly Told[]> = computed(() =>
  answer.value.member_id === me.value?.member_id ? answer.value.alarms : [],
);

/** When what others did not see came to me, by the alarm's id. */
export const handedAt: ReadonlySignal<ReadonlyMap<string, number>> = computed(
  () =>
    new Map(
      told.value
        .filter((one) => one.params.handed_from && one.state === "told")
        .map((one) => [one.alarm_id, Date.parse(one.due_at)]),
    ),
);

/** The notice of what was missed, until it is seen; undefined where nothing was. */
export const missedNotice: ReadonlySignal<Told | undefined> = computed(() =>
  told.value.find(
    (one) =>
      one.kind === MISSED &&
      one.state !== "seen" &&
      missedIn(one).length > 0 &&
      !isSettled(one.alarm_id, Date.parse(one.due_at)),
  ),
);

export const missedIn = ({ params }: Told): Missed[] => (params.missed ?? []) as Missed[];

/** Ask the server; false where it cannot be asked now, and what it said last stands. */
export async function askTold(): Promise<boolean> {
  const account = me.peek();
  if (!account) return false;
  const { member_id, device_id } = account;
  if (answer.peek().member_id !== member_id) await recall(member_id, device_id);
  try {
    const { alarms } = await call<{ alarms: Told[] }>("GET", "alarms");
    if (me.peek()?.device_id !== device_id) return false;
    answer.value = { member_id, alarms };
    await keepAnswer(NAME, device_id, alarms);
    return true;
  } catch {
    return false;
  }
}

/** Take what was answered before this page was loaded. */
async function recall(member_id: string, device_id: string): Promise<void> {
  const kept = await keptAnswer<Told[]>(NAME, device_id);
  const still = me.peek()?.device_id === device_id && answer.peek().member_id !== member_id;
  if (kept && still) answer.value = { member_id, alarms: kept.said };
}
