/** The server's last answers to what is only asked, one of each name for each key: they outlast a reload without a signal. */
import { home } from "./home.ts";

export interface Kept<T> {
  /** When it was answered, by this phone's clock. */
  at: number;
  said: T;
}

const placeOf = (name: string, device_id: string): string => `${name} ${device_id}`;

/** Keep an answer in the place of the last; where there is no room, the page has it all the same. */
export async function keepAnswer(name: string, device_id: string, said: unknown): Promise<void> {
  const value = JSON.stringify({ at: Date.now(), said });
  try {
    await (await home()).put("settings", { name: placeOf(name, device_id), value });
  } catch (error) {
    console.warn(error);
  }
}

/** Give the last answer; null where there is none that can be read. */
export async function keptAnswer<T>(name: string, device_id: string): Promise<Kept<T> | null> {
  try {
    const row = await (await home()).get("settings", placeOf(name, device_id));
    return row?.value ? (JSON.parse(row.value) as Kept<T>) : null;
  } catch {
    return null;
  }
}
