/**
 * One round trip with the server: hand over what waits, take what is new.
 *
 * - Only an entry of `refused` is a verdict. Any other failure leaves the queue as it is.
 * - 401: the key is gone. Local work stays, and is never sent again under this key or another.
 * - 409: this client is too old, or too new, for the server.
 * - 413: the same with fewer operations.
 * - An answer that was lost costs nothing: the same numbers are offered again and get the same verdicts.
 * - Whoever has nothing to say asks in a few bytes, and hears in as few that nothing is new.
 * - The pages of a snapshot come one by one; what people wrote goes before them.
 * - An answer that another tab or the worker overtook is dropped, and asked for again.
 */
import { SCHEMA } from "../merge/catalogue.ts";
import type { Operation } from "../merge/state.ts";
import { absorb, StaleAnswerError } from "../store/absorb.ts";
import { lackingPage } from "../store/blocks.ts";
import type { Copy } from "../store/copy.ts";
import { type Meta, readMeta, readOperation } from "../store/db.ts";
import { setSyncState } from "../store/syncState.ts";
import { fetchPage } from "./pages.ts";
import { type Answer, PROTOCOL, type Request } from "./protocol.ts";

export const MOST_OPERATIONS = 2000;
const MOST_CHARACTERS = 3_000_000;
const PACK_FROM = 1000;
const PATIENCE_MS = 30_000;
/** Said by the server only while nobody rings the alarms there. */
const BELL = "Tackwatch-Bell";

export interface Ports {
  fetch: typeof fetch;
  /** This phone's own time, uncorrected, in milliseconds. */
  now: () => number;
  key: string;
  refit_id: string;
}

export type Outcome =
  /** An answer was taken in; `more` says that another round is due at once, `stuck` that what waits did not move. */
  | { kind: "taken"; more: boolean; numbers: number[]; whole: boolean; stuck: boolean }
  | { kind: "revoked" }
  | { kind: "too_old" }
  | { kind: "too_large" }
  /** No verdict: try again later, not before `wait_ms` where the server said so. */
  | { kind: "later"; offline: boolean; wait_ms: number };

/**
 * Do one round trip; at most `most` operations are handed over. With `words_first` what waits here goes out before the
 * next page of a snapshot comes in.
 */
export async function round(
  copy: Copy,
  ports: Ports,
  most: number = MOST_OPERATIONS,
  words_first = true,
): Promise<Outcome> {
  if ((await copy.readMeta()).version !== copy.meta.version) await copy.reload();
  const { request, version, aside } = await offer(copy, most);
  const page = await lackingPage(copy.db, aside);
  if (aside?.snapshot && page !== null && !(words_first && request.operations.length > 0)) {
    return fetchPage(copy, ports, aside.snapshot.version, page);
  }
  const sent_at = ports.now();
  let response: Response;
  let text: string;
  try {
    response = await (isQuiet(request) ? ask : post)(ports, request);
    text = await response.text();
  } catch {
    return { kind: "later", offline: true, wait_ms: 0 };
  }
  if (response.ok) setSyncState({ nobody_rings: response.headers.get(BELL) === "silent" });
  if (response.status === 204) {
    await measureByDate(copy, response, sent_at, ports.now());
    return { kind: "taken", more: false, numbers: [], whole: false, stuck: false };
  }
  if (!response.ok) return failure(response, text, ports.now());
  const answer = readAnswer(text);
  if (answer === null) return { kind: "later", offline: false, wait_ms: 0 };
  await measure(copy, Date.parse(answer.server_time), sent_at, ports.now());
  let numbers: number[];
  try {
    numbers = await absorb(copy, answer, version);
  } catch (error) {
    if (!(error instanceof StaleAnswerError)) throw error;
    return { kind: "taken", more: true, numbers: [], whole: true, stuck: false };
  }
  const left = copy.board.waitingCount() > 0;
  const moved = numbers.length > 0;
  const whole = answer.reset || answer.changes.length > 0 || moved;
  const first = request.epoch === null;
  const more = answer.more || copy.meta.aside !== null || (left && (moved || first));
  return { kind: "taken", more, numbers, whole, stuck: left && !moved };
}

/** Nothing waits here, and all is here up to the cursor. */
const isQuiet = ({ operations, parts }: Request): boolean => operations.length === 0 && parts;

/**
 * What this phone has to say: its place, and the oldest operations that wait; with the version of the rows it rests on.
 *
 * A copy that never heard the server may be a second one under the same key, after the first was wiped: it keeps its
 * operations back until it knows which numbers are used up.
 */
async function offer(
  copy: Copy,
  most: number,
): Promise<{ request: Request; version: number; aside: Meta["aside"] }> {
  const tx = copy.db.transaction(["operations", "meta"]);
  const waiting = await tx.objectStore("operations").index("status").getAll("waiting", most);
  const meta = readMeta(await tx.objectStore("meta").get("meta"));
  const first = await tx.objectStore("operations").openKeyCursor();
  const place = meta.aside ?? meta;
  const operations: Operation[] = [];
  let room = MOST_CHARACTERS;
  for (const found of place.epoch === null ? [] : waiting) {
    const { n, at, act, actions } = readOperation(found);
    room -= JSON.stringify(actions).length;
    if (room < 0 && operations.length > 0) break;
    operations.push({ n, at, act, actions });
  }
  const { cursor, epoch } = place;
  const device = copy.device_id;
  const version = { protocol: PROTOCOL, schema: SCHEMA };
  const request = {
    ...version,
    epoch,
    device,
    cursor,
    operations,
    snapshot: true,
    parts: meta.aside === null && !meta.more && cursor > 0,
    loading: meta.aside !== null,
    first_n: first?.key ?? null,
  };
  return { request, version: meta.version, aside: meta.aside };
}

async function post(ports: Ports, request: Request): Promise<Response> {
  const headers: Record<string, string> = {
    Authorization: `Bearer ${ports.key}`,
    "Content-Type": "application/json",
  };
  let body: string | ArrayBuffer = JSON.stringify(request);
  if (body.length > PACK_FROM && typeof CompressionStream !== "undefined") {
    headers["Content-Encoding"] = "gzip";
    body = await packed(body);
  }
  const path = `/api/refits/${ports.refit_id}/sync`;
  return ports.fetch(path, { method: "POST", headers, body, signal: patience() });
}

/** Ask whether anything is new, in as few bytes as can be. */
function ask(ports: Ports, { epoch, cursor }: Request): Promise<Response> {
  const path = `/api/refits/${ports.refit_id}/sync?epoch=${epoch}&cursor=${cursor}`;
  const headers = { Authorization: `Bearer ${ports.key}` };
  return ports.fetch(path, { headers, signal: patience() });
}

const patience = (): AbortSignal | null => AbortSignal.timeout?.(PATIENCE_MS) ?? null;

function packed(text: string): Promise<ArrayBuffer> {
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

export function failure(response: Response, text: string, now_ms: number): Outcome {
  if (response.status === 401) return { kind: "revoked" };
  if (response.status === 409 && /too-(old|new)"/.test(text)) return { kind: "too_old" };
  if (response.status === 413) return { kind: "too_large" };
  const wait_ms = retryAfter(response.headers.get("Retry-After"), now_ms);
  return { kind: "later", offline: false, wait_ms };
}

/** The wait that a server asks for, in seconds or as a date (RFC 9110, 10.2.3). */
export function retryAfter(header: string | null, now_ms: number): number {
  if (header === null) return 0;
  const wait_ms = /^\d+$/.test(header) ? Number(header) * 1000 : Date.parse(header) - now_ms;
  return Number.isFinite(wait_ms) ? Math.max(0, wait_ms) : 0;
}

/** A page of a captive portal, or half an answer, is no answer. */
function readAnswer(text: string): Answer | null {
  try {
    const answer = JSON.parse(text) as Answer;
    const fits =
      typeof answer.cursor === "number" &&
      typeof answer.acknowledged_n === "number" &&
      Array.isArray(answer.changes);
    return fits ? answer : null;
  } catch {
    return null;
  }
}

/** Measure how far this phone's clock is off: the server answered half way through the round trip. */
async function measure(
  copy: Copy,
  server_ms: number,
  from: number,
  to: number,
  coarse_ms = 0,
): Promise<void> {
  const half_ms = (to - from) / 2;
  const off_ms = Math.round(server_ms - (from + half_ms));
  if (!Number.isFinite(off_ms) || half_ms < 0) return;
  const known = copy.meta.clock_off_ms;
  if (Math.abs(off_ms - known) <= half_ms + coarse_ms) return;
  await copy.setMeta(() => ({ clock_off_ms: off_ms }));
}

/** An answer without a body says the time in whole seconds, in its head (RFC 9110, 6.6.1). */
async function measureByDate(copy: Copy, response: Response, from: number, to: number) {
  const second_ms = Date.parse(response.headers.get("Date") ?? "");
  await measure(copy, second_ms + 500, from, to, 500);
}
