/** What rang on this phone already. */
import { SAME_MS } from "./alarm_marks.ts";
import { openCopy } from "./local.ts";
import { nowMs } from "./now.ts";

const KEEP_MS = 30 * 24 * 3600 * 1000;

/**
 * True for the first who asks for this alarm on this phone, in whichever tab, before or after a reload. An alarm that
 * moved to a later instant since it rang, or was put off, is another ring.
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
