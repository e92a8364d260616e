/** How the refit's alarms were rung, as the server says; and whether anybody rings, as each exchange says. */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { me } from "./accounts.ts";
import { call } from "./http.ts";
import { type Kept, keepAnswer, keptAnswer } from "./kept.ts";

export interface ChannelHealth {
  channel: "page" | "push" | "webhook" | "mail";
  sent: number;
  failed: number;
  refused: number;
  dropped: number;
  late_mean_s: number | null;
  /** How many went out up to so many seconds late, by that bound. */
  late_up_to: Record<string, number>;
}

export interface BellHealth {
  name: string;
  alive: boolean;
  beat_at: string;
  next_beat_by: string;
}

export interface RefitHealth {
  since: string;
  rings: boolean;
  bells: BellHealth[];
  waiting: { due: number; overdue: number; retrying: number; to_come: number; claimed: number };
  told: number;
  missed: number;
  channels: ChannelHealth[];
}

const NAME = "health";
const answer = signal<{ device_id: string; kept: Kept<RefitHealth> } | null>(null);

/** What was answered last to whoever is in front of this phone. */
export const health: ReadonlySignal<Kept<RefitHealth> | null> = computed(() =>
  answer.value && answer.value.device_id === me.value?.device_id ? answer.value.kept : null,
);

/** Ask the server; false where it cannot be asked now, and what it said last stands. */
export async function askHealth(): Promise<boolean> {
  const device_id = me.peek()?.device_id;
  if (!device_id) return false;
  const before = health.peek() ?? (await keptAnswer<RefitHealth>(NAME, device_id));
  if (before) answer.value = { device_id, kept: before };
  try {
    const said = await call<RefitHealth>("GET", "health");
    answer.value = { device_id, kept: { at: Date.now(), said } };
    await keepAnswer(NAME, device_id, said);
    return true;
  } catch {
    return false;
  }
}
