/** Alarms that a person put off on this phone, and those that rang here already. */
import { type ReadonlySignal, signal } from "@preact/signals";
import { openCopy } from "./local.ts";
import { nowMs } from "./now.ts";

const KEEP_MS = 30 * 24 * 3600 * 1000;

/** Two instants that are nearer than this are the same alarm to a person. */
const SAME_MS = 60_000;

const until = signal<Record<string, number>>({});

/** Until when each alarm is put off. */
export const snoozedUntil: ReadonlySignal<Record<string, number>> = until;

/** Read what an earlier visit left. */
export function loadSnoozed(): void {
  until.value = openCopy()?.meta.snoozed ?? {};
}

/** Put one alarm off; it rings once more when the time is over. */
export async function putOff(alarm_id: string, minutes: number): Promise<void> {
  const at = nowMs() + minutes * 60_000;
  try {
    // First on the disk: an alarm that is silent and still counts as rung would never ring again.
    await openCopy()?.setMeta((meta) => {
      const { [alarm_id]: _, ...rang } = meta.rang;
      return { snoozed: { ...fresh(meta.snoozed), [alarm_id]: at }, rang };
    });
  } finally {
    until.value = { ...until.peek(), [alarm_id]: at };
  }
}

/**
 * True for the first who asks for this alarm on this phone, in whichever tab, before or after a reload. An alarm that
 * moved to a later instant since it rang is another ring.
 */
export async function claimRing(alarm_id: string, due_at: number): Promise<boolean> {
  const copy = openCopy();
  const isFirst = (rang: Record<string, number>): boolean =>
    due_at > (rang[alarm_id] ?? Number.NEGATIVE_INFINITY) + SAME_MS;
  if (copy === null || !isFirst(copy.meta.rang)) return false;
  let first = false;
  await copy.setMeta((meta) => {
    first = isFirst(meta.rang);
    return first ? { rang: { ...fresh(meta.rang), [alarm_id]: due_at } } : {};
  });
  return first;
}

/** Forget what is long past. */
function fresh(entries: Record<string, number>): Record<string, number> {
  const from = nowMs() - KEEP_MS;
  return Object.fromEntries(Object.entries(entries).filter(([, at]) => at > from));
}
