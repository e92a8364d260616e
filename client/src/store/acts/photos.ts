/** Photos: the picture stays on the phone until it is sent, the record goes with the words. */

import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import { nowAt } from "../now.ts";
import { keepPhoto } from "../photos.ts";
import { recording } from "./actions.ts";

export interface PhotoPlace {
  job_id?: string;
  step_id?: string;
  zone_id?: string;
  text?: string;
}

/** Keep a picture, made smaller and without its metadata. Answers the record's id. */
export async function addPhoto(blob: Blob, place: PhotoPlace): Promise<string> {
  const { sha256, size_b } = await keepPhoto(blob);
  const id = newId();
  await commit("add_photo", [
    recording("photo", { ...place, sha256, size_b, taken_at: nowAt() }, id),
  ]);
  return id;
}
