/** Photos: the picture stays on the phone until it is sent, the record goes with the words. */

import { ProblemError } from "../errors.ts";
import { nudgeSync } from "../hooks.ts";
import { newId } from "../ids.ts";
import { commit, countPhotos, openCopy } from "../local.ts";
import { nowAt } from "../now.ts";
import { lookAtUnsent, shrunk, untouched } from "../photos.ts";
import { viewSignal } from "../viewSignal.ts";
import { recordingOn } from "./actions.ts";
import { voidRecord } from "./correct.ts";

export interface PhotoPlace {
  job_id?: string;
  step_id?: string;
  zone_id?: string;
  text?: string;
}

/**
 * Keep a picture, made smaller and without its metadata. Answers the record's id.
 *
 * With `keep_metadata` it is kept as the camera wrote it. Throws ProblemError, and keeps nothing, where the server would
 * not take such a file.
 */
export async function addPhoto(
  blob: Blob,
  place: PhotoPlace,
  keep_metadata = false,
): Promise<string> {
  const picture = await (keep_metadata ? untouched(blob) : shrunk(blob));
  if (picture === null) throw new ProblemError(422, { type: "urn:tackwatch:problem:not-as-it-is" });
  const { sha256 } = picture;
  const size_b = picture.bytes.byteLength;
  const id = newId();
  const actions = recordingOn("photo", { ...place, sha256, size_b, taken_at: nowAt() }, id);
  await commit("add_photo", actions, [picture]);
  return id;
}

/** Offer a picture again that the server did not take; with what is in it beside the picture where the person says so. */
export async function sendPhotoAgain(sha256: string, keep_metadata: boolean): Promise<void> {
  const db = openCopy()?.db;
  const row = await db?.get("blobs", sha256);
  if (row?.status !== "refused") return;
  const { problem: _, ...rest } = row;
  const keep = keep_metadata || row.keep_metadata === true;
  await db?.put("blobs", { ...rest, status: "waiting", keep_metadata: keep });
  await countPhotos();
  await lookAtUnsent();
  nudgeSync();
}

/** Let a picture go that the server did not take, and take back what was logged with it. */
export async function letPhotoGo(sha256: string): Promise<void> {
  const db = openCopy()?.db;
  if ((await db?.get("blobs", sha256))?.status !== "refused") return;
  const records = viewSignal.peek().records("photo");
  for (const { id, body } of records) if (body.sha256 === sha256) await voidRecord("photo", id);
  await db?.delete("blobs", sha256);
  await lookAtUnsent();
}
