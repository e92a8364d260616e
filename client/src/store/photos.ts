/** Pictures on this phone: made small where they are taken, kept until they are sent, fetched when they are looked at. */
import { type ReadonlySignal, type Signal, signal } from "@preact/signals";
import type { BlobRow } from "./db.ts";
import { fetchBytes } from "./http.ts";
import { openCopy } from "./local.ts";

export { dropSent, type SentPhoto, sentPhotosOldestFirst } from "./sentphotos.ts";

const LONG_SIDE_PX = 1600;
const QUALITY = 0.8;
const JPEG = "image/jpeg";

/** A picture made smaller; drawing it anew leaves place and camera out. */
export async function shrunk(blob: Blob): Promise<BlobRow> {
  const bitmap = await createImageBitmap(blob, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONG_SIDE_PX / Math.max(bitmap.width, bitmap.height));
  const width = Math.max(1, Math.round(bitmap.width * scale));
  const height = Math.max(1, Math.round(bitmap.height * scale));
  const bytes = await (await drawn(bitmap, width, height)).arrayBuffer();
  bitmap.close();
  const sha256 = await sha256Of(bytes);
  return { sha256, type: JPEG, bytes, status: "waiting", kept_at: Date.now() };
}

async function drawn(bitmap: ImageBitmap, width: number, height: number): Promise<Blob> {
  if (typeof OffscreenCanvas !== "undefined") {
    const canvas = new OffscreenCanvas(width, height);
    const pen = canvas.getContext("2d");
    if (pen) {
      pen.drawImage(bitmap, 0, 0, width, height);
      return canvas.convertToBlob({ type: JPEG, quality: QUALITY });
    }
  }
  const canvas = Object.assign(document.createElement("canvas"), { width, height });
  canvas.getContext("2d")?.drawImage(bitmap, 0, 0, width, height);
  return new Promise((resolve, reject) => {
    const done = (made: Blob | null): void =>
      made ? resolve(made) : reject(new Error("The picture could not be drawn."));
    canvas.toBlob(done, JPEG, QUALITY);
  });
}

/** The SHA-256 of some bytes, in hex. */
export async function sha256Of(bytes: ArrayBuffer): Promise<string> {
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(hash, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

const SOON_MS = 1_000;
const SELDOM_MS = 60_000;
let wait_ms = SOON_MS;
let timer: ReturnType<typeof setTimeout> | undefined;

const urls = new Map<string, Signal<string | null>>();
const missing = new Set<string>();

/** The address of a picture to show: from this phone if it is here, else fetched; null until it is there. */
export function photoUrl(sha256: string): ReadonlySignal<string | null> {
  const known = urls.get(sha256);
  if (known) return known;
  const url = signal<string | null>(null);
  urls.set(sha256, url);
  void load(sha256, url);
  return url;
}

async function load(sha256: string, url: Signal<string | null>): Promise<void> {
  const row = (await openCopy()?.db.get("blobs", sha256)) ?? (await fetched(sha256));
  if (row) {
    url.value = URL.createObjectURL(new Blob([row.bytes], { type: row.type }));
    wait_ms = SOON_MS;
    return;
  }
  missing.add(sha256);
  lookAgain();
}

/** Words travel before pictures: one that is shown the moment its record arrives is often a second behind. */
function lookAgain(): void {
  if (timer !== undefined || typeof document === "undefined") return;
  timer = setTimeout(() => {
    timer = undefined;
    wait_ms = Math.min(2 * wait_ms, SELDOM_MS);
    retryMissing();
  }, wait_ms);
}

async function fetched(sha256: string): Promise<BlobRow | null> {
  const copy = openCopy();
  const answer = await fetchBytes(`photos/${sha256}`);
  if (answer === null || (await sha256Of(answer.bytes)) !== sha256) return null;
  const row: BlobRow = { sha256, ...answer, status: "fetched", kept_at: Date.now() };
  // A full disk is no reason not to show the picture.
  await copy?.db.put("blobs", row).catch(() => {});
  return row;
}

/** Look again for pictures that could not be had before. */
export function retryMissing(): void {
  for (const sha256 of [...missing]) {
    missing.delete(sha256);
    const url = urls.get(sha256);
    if (url) void load(sha256, url);
  }
}
