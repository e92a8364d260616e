/** Photos: the picture stays on the phone until it is sent, the record goes with the words. */

import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { nowAt } from "../now.ts";
import { shrunk } from "../photos.ts";
import { recording } from "./actions.ts";

export interface PhotoPlace {
  job_id?: string;
  step_id?: string;
  zone_id?: string;
  text?: string;
}

/** Keep a picture, made smaller and without its metadata. Answers the record's id. */
export async function addPhoto(blob: Blob, place: PhotoPlace): Promise<string> {
  const picture = await shrunk(blob);
  const { sha256 } = picture;
  const size_b = picture.bytes.byteLength;
  const id = newId();
  const record = recording("photo", { ...place, sha256, size_b, taken_at: nowAt() }, id);
  await commit("add_photo", [record], [picture]);
  return id;
}
