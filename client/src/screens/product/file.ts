/** The text of one product's file: the profile format of docs/profiles.md. */
import type { Json } from "../../store/view.ts";
import type { ProfileJson } from "./bundled.ts";
import { checkProfile, SheetError } from "./check.ts";

/** Read a file's text; throws SheetError where it is no profile. */
export function profileIn(text: string): ProfileJson {
  let data: Json;
  try {
    data = JSON.parse(text) as Json;
  } catch {
    throw new SheetError("file", "no_file");
  }
  checkProfile(data);
  return data as ProfileJson;
}

export const profileOut = (profile: ProfileJson): string => `${JSON.stringify(profile, null, 2)}\n`;
