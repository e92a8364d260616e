/** What runs behind the screens while the page is open: the exchange and the ringing. */
import { effect } from "@preact/signals";
import { Notice } from "../parts/notice.tsx";
import { overall } from "../parts/overall.ts";
import { ringFromServer, startRinging } from "../ring/ring.ts";
import { differences, questions, stranded } from "../store/derived.ts";
import { drainInbox } from "../store/inbox.ts";
import { refusedPhotos } from "../store/photos.ts";
import { setSyncState } from "../store/syncState.ts";
import { view } from "../store/view.ts";
import type { Alarm } from "../sw/notice.ts";
import { allWords } from "../words/index.ts";
import { startLoop } from "./loop.ts";
import { startPlans } from "./plans.ts";

const AGAIN_MS = 5_000;

export function startBehind(): void {
  effect(() => {
    const asked = questions.value.length + stranded.value.length + refusedPhotos().length;
    setSyncState({ need_you: view.value.refused.length + differences.value.length + asked });
  });
  startLoop({ alarm: (alarm) => void ringFromServer(alarm) });
  startPlans();
  void startAlarms();
  navigator.serviceWorker?.addEventListener("message", hear);
  // Nothing is lost if this fails: the entries stay and are tried again with the next start.
  drainInbox().catch((error: unknown) => console.warn(error));
}

/** Alarms are rung and shown in words: these are fetched first, and asked for until they are here. */
async function startAlarms(): Promise<void> {
  try {
    await allWords();
  } catch (error) {
    console.warn(error);
    setTimeout(startAlarms, AGAIN_MS);
    return;
  }
  startRinging();
  overall.value = Notice;
}

function hear({ data }: MessageEvent<{ do?: string; url?: string } & Alarm>): void {
  if (data?.do === "alarm") void ringFromServer(data);
  if (data?.do === "inbox") void drainInbox();
  if (data?.do === "go" && data.url) location.hash = new URL(data.url, location.href).hash;
}
