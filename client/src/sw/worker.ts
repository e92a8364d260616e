/**
 * The service worker: serves the shell with no signal, shows alarms that come over the air, and sends what waits when the
 * signal is back and no page is in sight. Requests of a page to the API go past it.
 *
 * A new version is fetched beside the old one and waits until a person takes it.
 */
import { openHome } from "../store/db.ts";
import { type Alarm, type Answer, isAnswer, noticeOf } from "./notice.ts";
import { rangHere } from "./rang.ts";
import { sendWhatWaits } from "./send.ts";

declare const self: ServiceWorkerGlobalScope;
/** Put in by the build: the files of this version, and its name. */
declare const PRECACHE: readonly string[];
declare const BUILD: string;

const CACHE = `tackwatch-${BUILD}`;
const SHELL = "/";

self.addEventListener("install", (event) => {
  const files = [SHELL, ...PRECACHE].map((path) => new Request(path, { cache: "no-cache" }));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(files)));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(dropOldVersions().then(() => self.clients.claim()));
});

async function dropOldVersions(): Promise<void> {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith("tackwatch-") && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
}

self.addEventListener("message", (event) => {
  if (event.data?.do === "take_over") event.waitUntil(self.skipWaiting());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/api/")) return;
  if (request.mode === "navigate") event.respondWith(fromCache(SHELL, request));
  else if (PRECACHE.includes(url.pathname)) event.respondWith(fromCache(url.pathname, request));
});

async function fromCache(path: string, request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(request);
}

/** The signal is back: a page in sight exchanges, and shows how it goes; without one the worker does. */
self.addEventListener("sync", ((event: ExtendableEvent) => {
  event.waitUntil(send());
}) as EventListener);

/** Failing asks the browser to wake the worker once more, later. */
async function send(): Promise<void> {
  const pages = await self.clients.matchAll({ type: "window" });
  const in_sight = pages.filter((page) => page.visibilityState === "visible");
  for (const page of in_sight) page.postMessage({ do: "sync" });
  if (in_sight.length === 0) await sendWhatWaits();
}

self.addEventListener("push", (event) => {
  event.waitUntil(ring(readAlarm(event.data)));
});

function readAlarm(data: PushMessageData | null): Alarm {
  try {
    const said = data?.json() as Partial<Alarm> | null;
    return { ...said, alarm_id: String(said?.alarm_id ?? "alarm") };
  } catch {
    return { alarm_id: "alarm" };
  }
}

/**
 * A page in sight rings itself, and one that sleeps may have; a notification is shown all the same, since a push that shows
 * none is resented, and is silent where the phone has rung.
 */
async function ring(alarm: Alarm): Promise<void> {
  const pages = await self.clients.matchAll({ type: "window" });
  const in_sight = pages.filter((page) => page.visibilityState === "visible");
  for (const page of in_sight) page.postMessage({ do: "alarm", ...alarm });
  const shown = in_sight.length > 0;
  const rang = !shown && (await rangHere(alarm.alarm_id, alarm.due_at, true).catch(() => false));
  const [title, options] = noticeOf(alarm, shown || rang);
  await self.registration.showNotification(title, options);
}

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const { alarm_id = event.notification.tag, url = "/#/now" } = event.notification.data ?? {};
  const { action } = event;
  event.waitUntil(isAnswer(action) ? file(alarm_id, action) : show(url));
});

/** Write down what the person tapped; a page makes a record of it, now or when it is opened next. */
async function file(alarm_id: string, action: Answer): Promise<void> {
  const db = await openHome();
  await db.add("inbox", { alarm_id, action, at: Date.now() });
  db.close();
  await tellPages({ do: "inbox" });
}

async function show(url: string): Promise<void> {
  const [page] = await self.clients.matchAll({ type: "window" });
  if (page === undefined) {
    await self.clients.openWindow(url);
    return;
  }
  page.postMessage({ do: "go", url });
  await page.focus();
}

async function tellPages(message: object): Promise<void> {
  const pages = await self.clients.matchAll({ type: "window" });
  for (const page of pages) page.postMessage(message);
}
