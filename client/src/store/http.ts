/** Calls that a person waits for: JSON both ways, errors as exceptions. */
import { OfflineError, ProblemError } from "./errors.ts";
import { currentAccount, signedIn } from "./session.ts";

/** Call without a key. */
export async function open<T>(method: string, path: string, body?: unknown): Promise<T> {
  return send<T>(method, path, body, {});
}

/** Call under the refit of the person who is signed in, with their key. */
export async function call<T>(method: string, path: string, body?: unknown): Promise<T> {
  const { refit_id, key } = signedIn();
  const headers = { Authorization: `Bearer ${key}` };
  return send<T>(method, `/api/refits/${refit_id}/${path}`, body, headers);
}

/** What was asked for again: as it was, or what it is now, with its new mark. */
export type Fresh<T> = { same: true } | { same: false; body: T; etag: string | null };

/** Ask for something of the refit that this phone may have already, marked `etag` by the server. */
export async function callAgain<T>(path: string, etag: string | null): Promise<Fresh<T>> {
  const { refit_id, key } = signedIn();
  const headers: Record<string, string> = { Authorization: `Bearer ${key}` };
  if (etag !== null) headers["If-None-Match"] = etag;
  const answer = await fetch(`/api/refits/${refit_id}/${path}`, {
    headers,
    cache: "no-store",
  }).catch(() => null);
  if (answer === null) throw new OfflineError();
  if (answer.status === 304) return { same: true };
  const parsed = asJson(await answer.text().catch(() => ""));
  if (!answer.ok) throw new ProblemError(answer.status, (parsed ?? {}) as object);
  if (parsed === null) throw new OfflineError();
  return { same: false, body: parsed as T, etag: answer.headers.get("ETag") };
}

async function send<T>(
  method: string,
  path: string,
  body: unknown,
  headers: Record<string, string>,
): Promise<T> {
  const init: RequestInit = { method, headers, cache: "no-store" };
  if (body !== undefined) {
    init.headers = { ...headers, "Content-Type": "application/json" };
    init.body = JSON.stringify(body);
  }
  let answer: Response;
  try {
    answer = await fetch(path, init);
  } catch {
    throw new OfflineError();
  }
  const text = await answer.text().catch(() => "");
  const parsed = asJson(text);
  if (!answer.ok) throw new ProblemError(answer.status, (parsed ?? {}) as object);
  return parsed as T;
}

function asJson(text: string): unknown {
  try {
    return text ? JSON.parse(text) : null;
  } catch {
    return null;
  }
}

/** Fetch bytes of the refit; null where they cannot be had now. */
export async function fetchBytes(
  path: string,
): Promise<{ bytes: ArrayBuffer; type: string } | null> {
  const account = currentAccount();
  if (account === null || account.key_revoked) return null;
  const headers = { Authorization: `Bearer ${account.key}` };
  try {
    const answer = await fetch(`/api/refits/${account.refit_id}/${path}`, { headers });
    if (!answer.ok) return null;
    const type = answer.headers.get("Content-Type") ?? "image/jpeg";
    return { bytes: await answer.arrayBuffer(), type };
  } catch {
    return null;
  }
}
