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
