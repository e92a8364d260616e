/** A new version of the client waits until a person takes it. */
import { effect, type ReadonlySignal, signal } from "@preact/signals";
import { syncState } from "./syncState.ts";

const ready = signal(false);
let waiting: ServiceWorker | null = null;
let taking = false;

export const updateReady: ReadonlySignal<boolean> = ready;

/** Let the new version take over; this page loads again. */
export function takeUpdate(): void {
  taking = true;
  if (waiting === null) location.reload();
  else waiting.postMessage({ do: "take_over" });
}

function offer(worker: ServiceWorker | null): void {
  if (worker === null || navigator.serviceWorker.controller === null) return;
  waiting = worker;
  ready.value = true;
}

/** Another tab took the new version: this one may be in the middle of a form, so it asks too. */
function offerReload(): void {
  waiting = null;
  ready.value = true;
}

const LOOK_EVERY_MS = 3600_000;

/** A page that stays open for days asks by itself: each hour, when it comes back into sight, and when it is too old. */
function lookAgain(registration: ServiceWorkerRegistration): void {
  const look = (): void => {
    // Without a signal there is nothing to be found, and nothing to be said.
    registration.update().catch(() => {});
  };
  setInterval(look, LOOK_EVERY_MS);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") look();
  });
  effect(() => {
    if (syncState.value.trouble === "too_old") look();
  });
}

/** Register the service worker and watch for new versions. */
export async function watchUpdates(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  let had_one = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (taking) location.reload();
    else if (had_one) offerReload();
    had_one = true;
  });
  const registration = await navigator.serviceWorker.register("/sw.js");
  offer(registration.waiting);
  lookAgain(registration);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker?.addEventListener("statechange", () => {
      if (worker.state === "installed") offer(worker);
    });
  });
}
