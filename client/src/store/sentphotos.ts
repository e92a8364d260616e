/** Pictures that the server has too, and that this phone may let go of. */
import type { Copy } from "./copy.ts";
import type { BlobRow } from "./db.ts";

/** A whole picture that the server has too. */
export interface SentPhoto {
  sha256: string;
  status: "sent" | "fetched";
  size_b: number;
  kept_at: number;
}

const isOnServer = (status: BlobRow["status"]): status is SentPhoto["status"] =>
  status === "sent" || status === "fetched";

/** The whole pictures that may be let go of, since the server has them: those first that came here first. */
export async function sentPhotosOldestFirst(copy: Copy): Promise<SentPhoto[]> {
  const found: SentPhoto[] = [];
  const { store } = copy.db.transaction("blobs");
  // One at a time: all of them together would not fit into a small phone's memory.
  for (let at = await store.openCursor(); at; at = await at.continue()) {
    const { sha256, bytes, status, kept_at = 0 } = at.value;
    if (isOnServer(status)) found.push({ sha256, status, size_b: bytes.byteLength, kept_at });
  }
  return found.sort((a, b) => a.kept_at - b.kept_at);
}

/**
 * Let go of pictures that the server has too; they are fetched again when they are looked at. What is not sent stays,
 * whatever is asked. Answers how many bytes were let go of.
 */
export async function dropSent(copy: Copy, names: string[]): Promise<number> {
  const tx = copy.db.transaction("blobs", "readwrite");
  let freed_b = 0;
  for (const sha256 of names) {
    const row = await tx.store.get(sha256);
    if (row === undefined || !isOnServer(row.status)) continue;
    await tx.store.delete(sha256);
    freed_b += row.bytes.byteLength;
  }
  await tx.done;
  return freed_b;
}
