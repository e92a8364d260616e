/**
 * Who is to be warned of what, by the rules of the server's reckoning.
 *
 * - A coat's warnings go to who logged it and to who has the steps that wait for it (its own step, where none do); a
 *   pot's to who mixed it. Viewers are not rung.
 * - A recoat warning is wanted while a step that follows by cure has not begun, and where nothing follows at all; that a
 *   window was missed only where something waits for it.
 * - `sandable` is wanted where sanding waits for it; the water's windows where a step waits for the water, or on the
 *   last coat.
 */
import type { StepState as Story } from "../../clocks/steps.ts";
import { type Leads, USUAL_LEADS, type Warning, warningsOf } from "../../clocks/warnings.ts";
import type { ItemRow, View } from "../types.ts";
import type { Source } from "./sources.ts";
import { type Link, linkOf, windowStages } from "./steps.ts";

export interface PersonalWarning {
  member_id: string;
  source: Source;
  warning: Warning;
}

const BEGUN = new Set(["finished", "signed_off", "under_way", "curing"]);
const SANDING = new Set(["sand", "grind"]);

export function personalWarnings(
  rows: View,
  sources: readonly Source[],
  coats: ReadonlyMap<string, Source[]>,
  stories: ReadonlyMap<string, Story>,
): PersonalWarning[] {
  const after = new Map<string, Link[]>();
  for (const link of rows.items("link").map(linkOf)) {
    if (!link.by_cure || !stories.has(link.step_id)) continue;
    after.set(link.after_id, [...(after.get(link.after_id) ?? []), link]);
  }
  const linksOf = (source: Source): Link[] => after.get(source.step_id ?? "") ?? [];
  return sources.flatMap((source) => ofSource(rows, source, linksOf(source), { coats, stories }));
}

interface Known {
  coats: ReadonlyMap<string, Source[]>;
  stories: ReadonlyMap<string, Story>;
}

function ofSource(
  rows: View,
  source: Source,
  after: readonly Link[],
  known: Known,
): PersonalWarning[] {
  const waiting = after
    .map((link) => link.step_id)
    .filter((step_id) => !begun(step_id, source, known));
  const kinds = waiting.map((id) => rows.item("step", id)?.fields.kind as string);
  const people = peopleOf(rows, source, waiting).flatMap((id) => rows.item("member", id) ?? []);
  return people.filter(isRung).flatMap((member) =>
    warningsOf(source.clocks, leadsOf(rows, member))
      .filter((warning) => wanted(warning.kind, source, after.length > 0, kinds))
      .map((warning) => ({ member_id: member.id, source, warning })),
  );
}

const isRung = ({ fields }: ItemRow): boolean => fields.gone !== true && fields.role !== "viewer";

function begun(step_id: string, source: Source, { coats, stories }: Known): boolean {
  if (BEGUN.has(stories.get(step_id)?.state ?? "")) return true;
  return (coats.get(step_id) ?? []).some((one) => one.start_at >= source.start_at);
}

/** Say whether a kind of warning helps anybody, given what still waits for this coat. */
function wanted(kind: string, source: Source, followed: boolean, waiting: string[]): boolean {
  if (source.is_pot) return true;
  const coats = waiting.some((one) => windowStages(one)[0] === "recoat_opens");
  if (kind === "sandable") return waiting.some((one) => SANDING.has(one));
  if (kind.startsWith("immerse")) return waiting.includes("wait") || !followed;
  if (kind === "recoat_missed") return coats;
  return coats || !followed;
}

function peopleOf(rows: View, source: Source, waiting: readonly string[]): string[] {
  const people = [...source.authors];
  if (!source.is_pot) {
    const own = source.step_id ? [source.step_id] : [];
    for (const id of waiting.length > 0 ? waiting : own) {
      const step = rows.item("step", id);
      if (step) people.push(...rows.members(step, "assignees").sort());
    }
  }
  return [...new Set(people)];
}

function leadsOf(rows: View, member: ItemRow): Leads {
  return {
    ...USUAL_LEADS,
    pot_life_ending_s: 60 * rows.field<number>(member, "pot_lead_min"),
    recoat_closing_s: 60 * rows.field<number>(member, "recoat_lead_min"),
  };
}
