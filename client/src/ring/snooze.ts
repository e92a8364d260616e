/** Putting an alarm off, and taking notifications away that have been dealt with. */
import { putOff } from "../store/acts/alarms.ts";

/** Silence one alarm for me for some minutes; then it rings once more. */
export async function snooze(alarm_id: string, minutes: number): Promise<void> {
  await putOff(alarm_id, minutes);
  await closeNotices([alarm_id]);
}

/** Take notifications away that have been dealt with, here or on another phone. */
export async function closeNotices(alarm_ids: readonly string[]): Promise<void> {
  if (alarm_ids.length === 0) return;
  const registration = await navigator.serviceWorker?.getRegistration();
  for (const tag of alarm_ids) {
    const shown = (await registration?.getNotifications({ tag })) ?? [];
    for (const notice of shown) notice.close();
  }
}
