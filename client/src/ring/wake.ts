/** Keeping the screen awake while something is about to ring. */
import { type ReadonlySignal, signal } from "@preact/signals";

const held = signal(false);
let wanted = false;
let lock: WakeLockSentinel | null = null;
let asking = false;

/** The screen is kept awake now. */
export const awake: ReadonlySignal<boolean> = held;

/** Say whether the screen is to stay awake; the browser takes the lock away with each change of page. */
export function keepAwake(want: boolean): void {
  wanted = want;
  void follow();
}

async function follow(): Promise<void> {
  if (!("wakeLock" in navigator) || asking) return;
  const possible = wanted && document.visibilityState === "visible";
  if (!possible) {
    await lock?.release().catch(() => {});
    lock = null;
    held.value = false;
    return;
  }
  if (lock && !lock.released) return;
  asking = true;
  try {
    lock = await navigator.wakeLock.request("screen");
    held.value = true;
    lock.addEventListener("release", () => {
      held.value = false;
    });
  } catch {
    // Low battery, or not allowed: the page rings all the same while it is in sight.
    held.value = false;
  } finally {
    asking = false;
  }
}

/** Take the lock again when the page comes back into sight. */
export function watchSight(): void {
  document.addEventListener("visibilitychange", () => void follow());
}
