/**
 * Sending pictures, after the words: one by one, in pieces, until the server has each (docs/photos.md).
 *
 * - The protocol is tus 1.0.0. Each try begins the upload again; the server answers how far it came, so nothing about it
 *   is kept here, and a page that is killed at any piece goes on from what arrived.
 * - Words go first: between two pieces a picture gives way to what was written meanwhile.
 * - A verdict of the server is kept with the picture for a person; that there was no answer is none.
 * - After a failure the next try comes by itself, soon at first; a signal that comes back is not waited for.
 */
import type { Copy } from "../store/copy.ts";
import type { BlobRow } from "../store/db.ts";
import { runSync } from "../store/hooks.ts";
import { tellPhotos } from "../store/photohooks.ts";
import { sha256Of } from "../store/sha256.ts";
import type { Problem } from "../store/types.ts";
import { backoff } from "./exchange.ts";
import { type Ports, retryAfter } from "./round.ts";

export type PhotosEnding = "done" | "later" | "revoked";

/** So much is lost at most where something on the way keeps a request until it is whole. */
export const PIECE_B = 128 * 1024;
const PATIENCE_MS = 60_000;
const MOST_BEGINNINGS = 5;
const MOST_WAIT_MS = 60_000;

type Outcome =
  | { kind: "sent" | "revoked" | "again" | "words" }
  | { kind: "refused"; problem: Problem }
  | { kind: "later"; wait_ms: number };

/** Send what waits. A picture that the server does not take stays here and does not hold up the others. */
export async function sendPhotos(copy: Copy, ports: Ports): Promise<PhotosEnding> {
  clearTimeout(retry);
  try {
    return await sendAll(copy, ports);
  } finally {
    tellPhotos(null);
  }
}

async function sendAll(copy: Copy, ports: Ports): Promise<PhotosEnding> {
  for (const sha256 of await copy.db.getAllKeysFromIndex("blobs", "status", "waiting")) {
    const row = await copy.db.get("blobs", sha256);
    if (row?.status !== "waiting") continue;
    const outcome = await sendOne(copy, ports, row);
    if (outcome.kind === "revoked") return "revoked";
    if (outcome.kind === "words") return "later";
    if (outcome.kind === "sent") await copy.db.put("blobs", { ...row, status: "sent" });
    else if (outcome.kind === "refused")
      await copy.db.put("blobs", { ...row, status: "refused", problem: outcome.problem });
    else {
      tryAgainIn(outcome.kind === "later" ? outcome.wait_ms : 0);
      return "later";
    }
    failures = 0;
  }
  return "done";
}

let failures = 0;
let retry: ReturnType<typeof setTimeout> | undefined;

function tryAgainIn(wait_ms: number): void {
  failures += 1;
  const pause_ms = Math.min(MOST_WAIT_MS, backoff(failures, Math.random()));
  retry = setTimeout(() => void runSync(), Math.max(pause_ms, wait_ms));
}

async function sendOne(copy: Copy, ports: Ports, row: BlobRow): Promise<Outcome> {
  let outcome: Outcome = { kind: "again" };
  for (let count = 0; count < MOST_BEGINNINGS && outcome.kind === "again"; count++)
    outcome = await fromWhereItIs(copy, ports, row);
  return outcome;
}

/** Ask how far the picture came, and send the rest of it piece by piece. */
async function fromWhereItIs(copy: Copy, ports: Ports, row: BlobRow): Promise<Outcome> {
  const { sha256, bytes } = row;
  const size_b = bytes.byteLength;
  const uploads = `/api/refits/${ports.refit_id}/uploads`;
  let answer = await call(ports, "POST", uploads, {
    "Upload-Length": String(size_b),
    "Upload-Metadata": `sha256 ${btoa(sha256)},keep_metadata ${btoa(String(row.keep_metadata === true))}`,
  });
  for (;;) {
    const sent_b = answer?.ok ? Number(answer.headers.get("Upload-Offset") ?? Number.NaN) : 0;
    if (!answer?.ok || !(sent_b <= size_b)) return failure(answer, row, ports);
    tellPhotos({ sha256, sent_b, size_b });
    if (sent_b === size_b) return { kind: "sent" };
    if ((await copy.db.countFromIndex("operations", "status", "waiting")) > 0)
      return { kind: "words" };
    const headers = {
      "Upload-Offset": String(sent_b),
      "Content-Type": "application/offset+octet-stream",
    };
    const piece = bytes.slice(sent_b, sent_b + PIECE_B);
    answer = await call(ports, "PATCH", `${uploads}/${sha256}`, headers, piece);
  }
}

/** One request; null where there was no answer. */
async function call(
  ports: Ports,
  method: string,
  path: string,
  more: Record<string, string>,
  body: ArrayBuffer | null = null,
): Promise<Response | null> {
  const headers = { Authorization: `Bearer ${ports.key}`, "Tus-Resumable": "1.0.0", ...more };
  const signal = AbortSignal.timeout?.(PATIENCE_MS) ?? null;
  try {
    return await ports.fetch(path, { method, headers, body, cache: "no-store", signal });
  } catch {
    return null;
  }
}

/** The upload goes on elsewhere, was finished by another, or was given up: to begin it again finds out. */
const BEGIN_AGAIN = new Set([404, 409, 410]);

async function failure(answer: Response | null, row: BlobRow, ports: Ports): Promise<Outcome> {
  if (answer?.status === 401) return { kind: "revoked" };
  if (answer && BEGIN_AGAIN.has(answer.status)) return { kind: "again" };
  const problem = answer && (await verdictOf(answer));
  if (!problem || (spoiltOnTheWay(problem) && (await sha256Of(row.bytes)) === row.sha256)) {
    const wait_ms = retryAfter(answer?.headers.get("Retry-After") ?? null, ports.now());
    return { kind: "later", wait_ms };
  }
  return { kind: "refused", problem };
}

const spoiltOnTheWay = ({ type }: Problem): boolean => type.endsWith(":hash-differs");

/** What the server has against a picture; null where this is no verdict, or not from our server. */
async function verdictOf(answer: Response): Promise<Problem | null> {
  const { status } = answer;
  if (status < 400 || status === 408 || status === 429 || status >= 500) return null;
  try {
    const problem = (await answer.json()) as Problem;
    return problem.type.startsWith("urn:tackwatch:problem:") ? problem : null;
  } catch {
    return null;
  }
}
