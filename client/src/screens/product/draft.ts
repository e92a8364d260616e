/** A product that is being written: what stands in the form, and what it would be as a profile. */

import { tell } from "../../handbook/index.ts";
import type { Json } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { type Drafts, draftsOf, readDrafts, type Wrong } from "../sums/draft.ts";
import type { ProfileJson } from "./bundled.ts";
import { checkProfile, SheetError } from "./check.ts";
import { idOf, placeOf, profileOf, SHEET, sheetOf } from "./sheet.ts";

export interface ProductDraft {
  name: string;
  product_class: string;
  note: string;
  cautions: readonly string[];
  sheet: Drafts;
}

/** What stands in the form for a profile. Of typical figures nobody has said yet which sheet replaces them. */
export function draftOf(name: string, profile: ProfileJson): ProductDraft {
  return {
    name,
    product_class: String(profile.product_class ?? ""),
    note: profile.typical === true ? "" : String(profile.basis_note ?? ""),
    cautions: Array.isArray(profile.cautions) ? profile.cautions.map(String) : [],
    sheet: draftsOf(SHEET, sheetOf(profile)),
  };
}

export interface Read {
  profile: ProfileJson;
  wrong: Wrong;
  good: boolean;
  /** Some number differs from what the profile said before. */
  other: boolean;
}

const same = (one: Json | undefined, two: Json | undefined) =>
  JSON.stringify(one) === JSON.stringify(two);

/** The profile without its own name, number and where it comes from: what is in the tin. */
function content(profile: ProfileJson, shape: ProfileJson): Json {
  const { id: _i, version: _v, name: _n, typical: _t, basis_note: _b, ...rest } = profile;
  return Object.fromEntries(
    Object.keys({ ...shape, ...rest })
      .sort()
      .filter((key) => !["id", "version", "name", "typical", "basis_note"].includes(key))
      .map((key) => [key, rest[key] ?? null]),
  );
}

/** Read the form over the profile that it was opened with; its version rises by one. */
export function readProduct(draft: ProductDraft, before: ProfileJson, fresh = false): Read {
  const { takes, wrong } = readDrafts(SHEET, draft.sheet);
  const name = draft.name.trim();
  const opened = profileOf(sheetOf(before), before);
  const filled = profileOf(takes, before);
  const next: ProfileJson = {
    ...filled,
    product_class: draft.product_class,
    cautions: [...draft.cautions],
  };
  const other = !same(content(next, opened), content(opened, next));
  const typical = before.typical === true && !other;
  const names = Object.values((before.name ?? {}) as object);
  const profile: ProfileJson = {
    ...next,
    id: fresh ? idOf(name) : (before.id ?? idOf(name)),
    version: fresh ? 1 : Number(before.version ?? 0) + 1,
    name: names.includes(name) ? (before.name ?? null) : { en: name },
    typical,
    basis_note: typical ? (before.basis_note ?? "") : draft.note.trim(),
  };
  const found = { ...wrong, ...(name ? {} : { name: say("problem.missing") }) };
  if (Object.keys(found).length === 0) Object.assign(found, wrongBy(profile));
  return { profile, wrong: found, good: Object.keys(found).length === 0, other };
}

/** What the check says, at the place of the form where the field stands. */
export function wrongBy(profile: Json): Wrong {
  try {
    checkProfile(profile);
    return {};
  } catch (error) {
    if (!(error instanceof SheetError)) throw error;
    const place = placeOf(error.field);
    return { [place]: tellWrong(error, place.endsWith("hours") ? 60 : 1) };
  }
}

export function tellWrong({ code, words }: SheetError, share = 1): string {
  const shown = Object.entries(words).map(([name, value]) => [name, value / share]);
  return code === "missing"
    ? say("problem.missing")
    : tell(`wrong.${code}` as Parameters<typeof tell>[0], Object.fromEntries(shown));
}
