/** A new version of the client waits until a person takes it. */
import { type ReadonlySignal, signal } from "@preact/signals";

const ready = signal(false);
let waiting: ServiceWorker | null = null;

export const updateReady: ReadonlySignal<boolean> = ready;

/** Let the new version take over; the page loads again. */
export function takeUpdate(): void {
  waiting?.postMessage({ do: "take_over" });
}

function offer(worker: ServiceWorker | null): void {
  if (worker === null || navigator.serviceWorker.controller === null) return;
  waiting = worker;
  ready.value = true;
}

/** Register the service worker and watch for new versions. */
export async function watchUpdates(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  let had_one = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (had_one) location.reload();
    had_one = true;
  });
  const registration = await navigator.serviceWorker.register("/sw.js");
  offer(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker?.addEventListener("statechange", () => {
      if (worker.state === "installed") offer(worker);
    });
  });
}
