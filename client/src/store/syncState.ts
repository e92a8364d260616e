/** How the exchange with the server stands, in numbers that a screen turns into words. */
import { type ReadonlySignal, signal } from "@preact/signals";
import { runSync } from "./hooks.ts";

export interface SyncState {
  waiting: number;
  need_you: number;
  photos_waiting: number;
  /** How much of the photo that is being sent now is on the server; null while none is. */
  photo_pct: number | null;
  /** Photos that the server did not take. */
  photos_refused: number;
  online: boolean;
  running: boolean;
  last_at: number | null;
  trouble: "" | "revoked" | "too_old" | "server";
  /** Whether the whole refit has been on this phone; while it comes, how many entries, or parts of how many, are here. */
  met: boolean;
  entries: number;
  parts: number;
  parts_here: number;
  /** The last entry found no room on this phone. */
  full: boolean;
  /** The server says that nobody rings the alarms there. */
  nobody_rings: boolean;
}

const state = signal<SyncState>({
  waiting: 0,
  need_you: 0,
  photos_waiting: 0,
  photo_pct: null,
  photos_refused: 0,
  online: typeof navigator === "undefined" ? true : navigator.onLine !== false,
  running: false,
  last_at: null,
  trouble: "",
  met: false,
  entries: 0,
  parts: 0,
  parts_here: 0,
  full: false,
  nobody_rings: false,
});

export const syncState: ReadonlySignal<SyncState> = state;

/** Change some of the numbers; for the store and the sync only. What is the same already wakes nobody. */
export function setSyncState(change: Partial<SyncState>): void {
  const known = state.peek();
  const same = Object.entries(change).every(([name, value]) => Reflect.get(known, name) === value);
  if (!same) state.value = { ...known, ...change };
}

/** Exchange with the server now; ends when the exchange ends, and never throws. */
export const syncNow = (): Promise<void> => runSync();
