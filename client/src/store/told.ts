/**
 * What the server told this person, as far as it could be asked: alarms that came from somebody else, and who was told
 * when. Without a signal the last answer stands.
 */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { me } from "./accounts.ts";
import { call } from "./http.ts";

export interface Telling {
  member_id: string;
  told_at: string;
  seen_at: string | null;
}

export interface Told {
  alarm_id: string;
  kind: string;
  due_at: string;
  useless_after: string;
  params: Record<string, string | number | boolean | string[]>;
  state: "due" | "told" | "seen" | "done" | "missed";
  told_at: string | null;
  trace: Telling[];
}

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

/** Ask the server; false where it cannot be asked now. */
export async function askTold(): Promise<boolean> {
  const member_id = me.peek()?.member_id;
  if (!member_id) return false;
  try {
    const { alarms } = await call<{ alarms: Told[] }>("GET", "alarms");
    answer.value = { member_id, alarms };
    return true;
  } catch {
    return false;
  }
}
