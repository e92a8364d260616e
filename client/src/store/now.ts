/** The time by the server's clock, as far as this phone knows it. */
import { type ReadonlySignal, signal } from "@preact/signals";

const offset = signal(0);
const ticking = signal(Date.now());

/** How far this phone's clock is behind the server's, in milliseconds (added to the phone's time). */
export const clock_off_ms: ReadonlySignal<number> = offset;

/** Server-corrected milliseconds since 1970; moves each second and when the page comes back into sight. */
export const now: ReadonlySignal<number> = ticking;

/** The corrected time at this very moment. */
export function nowMs(): number {
  return Date.now() + offset.peek();
}

/** The corrected time as instants are written: RFC 3339, UTC. */
export function nowAt(): string {
  return new Date(nowMs()).toISOString();
}

export function setClockOffset(off_ms: number): void {
  offset.value = off_ms;
  tick();
}

/** Look at the clock now: for what is due between two seconds. */
export function tick(): void {
  ticking.value = nowMs();
}

if (typeof document !== "undefined") {
  setInterval(tick, 1000);
  document.addEventListener("visibilitychange", tick);
}
