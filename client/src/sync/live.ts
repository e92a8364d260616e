/** The live line: the server says that something changed, or that an alarm is due, while the page is open. */

import { EventReader, type LiveEvent } from "./events.ts";
import { backoff } from "./exchange.ts";

/** The server says something every 15 s; after this long a silence is a broken line. */
const SILENCE_MS = 40_000;

export interface Line {
  refit_id: string;
  key: string;
  heard: (event: LiveEvent) => void;
  /** The line stands again, so something may have been missed. */
  opened: () => void;
}

let current: AbortController | null = null;

/** Keep a line open until `stopLive`. */
export function startLive(line: Line): void {
  stopLive();
  const stop = new AbortController();
  current = stop;
  void keepOpen(line, stop.signal);
}

export function stopLive(): void {
  current?.abort();
  current = null;
}

async function keepOpen(line: Line, stop: AbortSignal): Promise<void> {
  let failures = 0;
  while (!stop.aborted) {
    const ending = await listen(line, stop);
    if (ending === "refused") return;
    failures = ending === "heard" ? 1 : failures + 1;
    await pause(backoff(failures, Math.random()), stop);
  }
}

function pause(wait_ms: number, stop: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, wait_ms);
    stop.addEventListener("abort", () => {
      clearTimeout(timer);
      resolve();
    });
  });
}

async function listen(line: Line, stop: AbortSignal): Promise<"refused" | "heard" | "nothing"> {
  const cut = new AbortController();
  const onStop = (): void => cut.abort();
  stop.addEventListener("abort", onStop);
  let silence = setTimeout(onStop, SILENCE_MS);
  let heard: "heard" | "nothing" = "nothing";
  try {
    const headers = { Authorization: `Bearer ${line.key}`, Accept: "text/event-stream" };
    const path = `/api/refits/${line.refit_id}/live`;
    const answer = await fetch(path, { headers, cache: "no-store", signal: cut.signal });
    if (answer.status === 401 || answer.status === 403) return "refused";
    if (!answer.ok || answer.body === null) return "nothing";
    line.opened();
    const pieces = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    const reader = new EventReader();
    for (let piece = await pieces.read(); !piece.done; piece = await pieces.read()) {
      heard = "heard";
      clearTimeout(silence);
      silence = setTimeout(onStop, SILENCE_MS);
      for (const event of reader.read(piece.value)) line.heard(event);
    }
  } catch {
    // Cut, or no signal: the caller tries again.
  } finally {
    clearTimeout(silence);
    stop.removeEventListener("abort", onStop);
  }
  return heard;
}
