/** Pictures on this phone: made small where they are taken, kept until they are sent, fetched when they are looked at. */
import { computed, effect, type ReadonlySignal, type Signal, signal } from "@preact/signals";
import type { BlobRow } from "./db.ts";
import { fetchBytes } from "./http.ts";
import { bare, textAt } from "./jpeg.ts";
import { openCopy } from "./local.ts";
import { hearPhotos, type PhotoProgress } from "./photohooks.ts";
import { sha256Of } from "./sha256.ts";
import { setSyncState, syncState } from "./syncState.ts";
import type { Problem } from "./types.ts";

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
  const bytes = bare(await (await drawn(bitmap, width, height)).arrayBuffer());
  bitmap.close();
  return waiting(bytes, JPEG);
}

/** As the server takes them; what a file says of its type is not asked. */
const HEADS: [type: string, at: number, head: string][] = [
  [JPEG, 0, "\xff\xd8\xff"],
  ["image/png", 0, "\x89PNG\r\n\x1a\n"],
  ["image/webp", 8, "WEBP"],
];
const MOST_BYTES = 20_000_000;

/** A picture as the camera wrote it, with the place that may be in it; null where the server would not take it so. */
export async function untouched(blob: Blob): Promise<BlobRow | null> {
  const bytes = await blob.arrayBuffer();
  const all = new Uint8Array(bytes);
  const found = HEADS.find(([, at, head]) => textAt(all, at, head.length) === head);
  if (!found || bytes.byteLength > MOST_BYTES) return null;
  return { ...(await waiting(bytes, found[0])), keep_metadata: true };
}

async function waiting(bytes: ArrayBuffer, type: string): Promise<BlobRow> {
  const sha256 = await sha256Of(bytes);
  return { sha256, type, bytes, status: "waiting", kept_at: Date.now() };
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

const SOON_MS = 1_000;
const SELDOM_MS = 60_000;
let wait_ms = SOON_MS;
let timer: ReturnType<typeof setTimeout> | undefined;

/** `small` for lists, `whole` for looking closely. */
export type Size = "small" | "whole";

const urls = new Map<string, Signal<string | null>>();
const missing = new Set<string>();
const keyOf = (sha256: string, size: Size): string =>
  size === "whole" ? sha256 : `${sha256}.small`;

/** The address of a picture to show: from this phone if it is here, else fetched; null until it is there. */
export function photoUrl(sha256: string, size: Size): ReadonlySignal<string | null> {
  const key = keyOf(sha256, size);
  const known = urls.get(key);
  if (known) return known;
  const url = signal<string | null>(null);
  urls.set(key, url);
  void load(key, url);
  return url;
}

async function load(key: string, url: Signal<string | null>): Promise<void> {
  const [sha256 = ""] = key.split(".");
  const db = openCopy()?.db;
  const row =
    (await db?.get("blobs", sha256)) ?? (await db?.get("blobs", key)) ?? (await fetched(key));
  if (row) {
    url.value = URL.createObjectURL(new Blob([row.bytes], { type: row.type }));
    wait_ms = SOON_MS;
    return;
  }
  missing.add(key);
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

async function fetched(key: string): Promise<BlobRow | null> {
  const copy = openCopy();
  const [sha256, small] = key.split(".");
  const answer = await fetchBytes(`photos/${sha256}${small ? "/thumbnail" : ""}`);
  if (answer === null || !(small || (await sha256Of(answer.bytes)) === key)) return null;
  const status = small ? "thumbnail" : "fetched";
  const row: BlobRow = { sha256: key, ...answer, status, kept_at: Date.now() };
  // A full disk is no reason not to show the picture.
  await copy?.db.put("blobs", row).catch(() => {});
  return row;
}

/** Look again for pictures that could not be had before. */
export function retryMissing(): void {
  for (const key of [...missing]) {
    missing.delete(key);
    const url = urls.get(key);
    if (url) void load(key, url);
  }
}

/** A picture that is not on the server; with a problem when the server did not take it. */
export interface Unsent {
  sha256: string;
  problem: Problem | null;
}

const progress = signal<PhotoProgress | null>(null);
const unsentRows = signal<ReadonlyMap<string, Unsent>>(new Map());

/** How far the picture came that is being sent now. */
export const photoProgress: ReadonlySignal<PhotoProgress | null> = progress;
/** The pictures of this phone that are not on the server, by name. */
export const unsent: ReadonlySignal<ReadonlyMap<string, Unsent>> = unsentRows;

/** Those that the server did not take: a person must say what becomes of them. */
export const refusedPhotos = (): Unsent[] =>
  [...unsent.value.values()].filter((one) => one.problem);

/** Look on the disk which pictures are not on the server. */
export async function lookAtUnsent(): Promise<void> {
  const db = openCopy()?.db;
  const [names = [], refused = []] = await Promise.all([
    db?.getAllKeysFromIndex("blobs", "status", "waiting"),
    db?.getAllFromIndex("blobs", "status", "refused"),
  ]).catch(() => []);
  const found = new Map<string, Unsent>();
  for (const sha256 of names) found.set(sha256, { sha256, problem: null });
  for (const { sha256, problem = NO_REASON } of refused) found.set(sha256, { sha256, problem });
  unsentRows.value = found;
  setSyncState({ photos_refused: refused.length });
}

const NO_REASON: Problem = { type: "", title: "", detail: "" };

if (typeof document !== "undefined") {
  hearPhotos((next) => {
    const other = next?.sha256 !== progress.peek()?.sha256;
    progress.value = next;
    setSyncState({ photo_pct: next && Math.floor((100 * next.sent_b) / next.size_b) });
    if (other) void lookAtUnsent();
  });
  // The number alone: every other change of the state would lead back here by way of what needs a person.
  const waiting_n = computed(() => syncState.value.photos_waiting);
  effect(() => {
    if (waiting_n.value >= 0) void lookAtUnsent();
  });
}
