/** What waits on this phone for people who share it and are not in front of it now. Their rows are not looked at. */
import { openPhone } from "./db.ts";

export interface Waiting {
  words: number;
  pictures: number;
}

/** How many entries and pictures under one device key are not on the server yet. */
export async function waitingOf(device_id: string): Promise<Waiting> {
  const db = await openPhone(device_id);
  try {
    const [words, pictures] = await Promise.all([
      db.countFromIndex("operations", "status", "waiting"),
      db.countFromIndex("blobs", "status", "waiting"),
    ]);
    return { words, pictures };
  } finally {
    db.close();
  }
}
