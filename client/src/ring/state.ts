/** Whether this phone can ring, as far as the browser says. */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { soundReady } from "./sound.ts";
import { awake } from "./wake.ts";

export interface RingState {
  sound_ready: boolean;
  notifications: "granted" | "denied" | "default" | "none";
  wake_lock: boolean;
  push: boolean;
}

export const permission = signal<RingState["notifications"]>(leave());
export const pushed = signal(false);

export function leave(): RingState["notifications"] {
  return typeof Notification === "undefined" ? "none" : Notification.permission;
}

export const ringState: ReadonlySignal<RingState> = computed(() => ({
  sound_ready: soundReady.value,
  notifications: permission.value,
  wake_lock: awake.value,
  push: pushed.value,
}));
