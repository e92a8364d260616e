/** What a person tapped on a notification while no page was open: made into records when one is. */

import { me } from "./accounts.ts";
import { markHandled, putOff } from "./acts/alarms.ts";
import { markSeen } from "./acts/logs.ts";
import { home } from "./home.ts";
import { clock_off_ms } from "./now.ts";

const SNOOZE_MIN = 10;

/** Work through the entries; one is taken away only after its record is on the disk. It was said when it was tapped. */
export async function drainInbox(): Promise<void> {
  if (me.peek() === null) return;
  const db = await home();
  for (const key of await db.getAllKeys("inbox")) {
    const entry = await db.get("inbox", key);
    const at = (entry?.at ?? Date.now()) + clock_off_ms.peek();
    if (entry?.action === "seen") await markSeen(entry.alarm_id, at);
    if (entry?.action === "snooze") await putOff(entry.alarm_id, SNOOZE_MIN, at);
    if (entry?.action === "done" && me.peek()?.role !== "viewer")
      await markHandled(entry.alarm_id, at);
    await db.delete("inbox", key);
  }
}
