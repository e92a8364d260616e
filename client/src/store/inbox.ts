/** What a person tapped on a notification while no page was open: made into records when one is. */

import { me } from "./accounts.ts";
import { markSeen } from "./acts/logs.ts";
import { home } from "./home.ts";
import { putOff } from "./snoozed.ts";

const SNOOZE_MIN = 10;

/** Work through the entries; one is taken away only after its record is on the disk. */
export async function drainInbox(): Promise<void> {
  if (me.peek() === null) return;
  const db = await home();
  for (const key of await db.getAllKeys("inbox")) {
    const entry = await db.get("inbox", key);
    if (entry?.action === "seen") await markSeen(entry.alarm_id);
    if (entry?.action === "snooze") await putOff(entry.alarm_id, SNOOZE_MIN);
    await db.delete("inbox", key);
  }
}
