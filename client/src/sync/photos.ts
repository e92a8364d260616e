/** Sending pictures, after the words: one by one, by hash, until the server has each. */
import type { Copy } from "../store/copy.ts";
import type { Ports } from "./round.ts";

export type PhotosEnding = "done" | "later" | "revoked";

const PATIENCE_MS = 120_000;

/** Send what waits. A picture that the server does not take stays here and does not hold up the others. */
export async function sendPhotos(copy: Copy, ports: Ports): Promise<PhotosEnding> {
  let ending: PhotosEnding = "done";
  for (const sha256 of await copy.db.getAllKeysFromIndex("blobs", "status", "waiting")) {
    const row = await copy.db.get("blobs", sha256);
    if (row === undefined) continue;
    const status = await put(ports, sha256, row.type, row.bytes);
    if (status === 401) return "revoked";
    if (status === 0 || status === 429 || status >= 500) return "later";
    if (status >= 200 && status < 300) await copy.db.put("blobs", { ...row, status: "sent" });
    else ending = "later";
  }
  return ending;
}

/** Put one picture; answers the status, 0 where there was no answer. */
async function put(ports: Ports, sha256: string, type: string, body: ArrayBuffer): Promise<number> {
  const headers = { Authorization: `Bearer ${ports.key}`, "Content-Type": type };
  const signal = AbortSignal.timeout?.(PATIENCE_MS) ?? null;
  const path = `/api/refits/${ports.refit_id}/photos/${sha256}`;
  try {
    return (await ports.fetch(path, { method: "PUT", headers, body, signal })).status;
  } catch {
    return 0;
  }
}
