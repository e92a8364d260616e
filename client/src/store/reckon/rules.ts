/**
 * How a warning rings for one person: the twin of the server's `reckoning.ring_rules`.
 *
 * - Each field is taken from the most specific rule that says something about it: this step and kind, this step, this
 *   kind, (the leads of older phones,) everything; then from how the kind rings by itself.
 * - Of two rules for the same thing the one that was made later counts.
 * - Who looks on is rung only where a rule says `off: false`; a hand so for the countdown to the launch.
 */
import { MANNERS, WALK_MIN, type WarningKind } from "../../clocks/warning_kinds.ts";
import type { ItemRow, Json, View } from "../types.ts";

/** How one kind of warning rings for one person. `asked`: the lead is the person's own choice. */
export interface Ring {
  off: boolean;
  lead_s: number | null;
  asked: boolean;
  walk_s: number;
  by_push: boolean;
  by_mail: boolean;
  by_webhook: boolean;
  quiet_from: string | null;
  quiet_to: string | null;
  zone: string;
  next_member_id: string | null;
  unseen_s: number | null;
}

const OLD_LEADS: Record<string, string> = {
  pot_life_ending: "pot_lead_min",
  recoat_closing: "recoat_lead_min",
};

type Fields = Record<string, Json>;

/** Answers for each person, kind and step. */
export class RingRules {
  private readonly rules = new Map<string, ItemRow[]>();
  private readonly known = new Map<string, Ring>();
  private readonly zone: string;

  constructor(rows: View) {
    this.zone = (rows.items("refit")[0]?.fields.time_zone as string | undefined) ?? "UTC";
    const latest = [...rows.items("ring_rule")].sort((a, b) =>
      a.at === b.at ? (a.id < b.id ? 1 : -1) : a.at < b.at ? 1 : -1,
    );
    for (const rule of latest) {
      const member_id = String(rule.fields.member_id);
      this.rules.set(member_id, [...(this.rules.get(member_id) ?? []), rule]);
    }
  }

  /** How a kind rings for a member, about some steps. */
  ring(member: ItemRow, kind: WarningKind, steps: readonly string[] = []): Ring {
    const named = (this.rules.get(member.id) ?? [])
      .map((rule) => (rule.fields.step_id as string | null | undefined) ?? "")
      .filter((id) => steps.includes(id));
    const key = `${member.id} ${kind} ${[...new Set(named)].sort().join()}`;
    const known = this.known.get(key);
    if (known) return known;
    const made = this.made(member, kind, steps);
    this.known.set(key, made);
    return made;
  }

  /** Who asked to be rung about one of these steps. */
  followers(steps: readonly string[]): string[] {
    const asks = ({ fields }: ItemRow): boolean =>
      fields.off === false && steps.includes((fields.step_id as string | null) ?? "");
    return [...this.rules].flatMap(([id, rules]) => (rules.some(asks) ? [id] : [])).sort();
  }

  private made(member: ItemRow, kind: WarningKind, steps: readonly string[]): Ring {
    const layers = this.layers(member, kind, steps);
    const said = <T>(name: string, otherwise: T): T =>
      (layers.map((layer) => layer[name] ?? null).find((value) => value !== null) as
        | T
        | undefined) ?? otherwise;
    const manner = MANNERS[kind];
    const own_min = said<number | null>("lead_min", null);
    const lead_min = own_min ?? manner.lead_min;
    const unseen_min = said<number | null>("unseen_min", manner.unseen_min);
    const { role } = member.fields;
    return {
      off: said("off", role === "viewer" || (kind === "launch_countdown" && role !== "owner")),
      lead_s: lead_min === null ? null : 60 * lead_min,
      asked: own_min !== null,
      walk_s: manner.walk ? 60 * said("walk_min", WALK_MIN) : 0,
      by_push: said("by_push", true),
      by_mail: said("by_mail", false),
      by_webhook: said("by_webhook", false),
      quiet_from: said<string | null>("quiet_from", null),
      quiet_to: said<string | null>("quiet_to", null),
      zone: (member.fields.time_zone as string | null | undefined) || this.zone,
      next_member_id: said<string | null>("next_member_id", null),
      unseen_s: unseen_min ? 60 * unseen_min : null,
    };
  }

  /** What was said, the most specific first. */
  private layers(member: ItemRow, kind: WarningKind, steps: readonly string[]): Fields[] {
    const found: Fields[][] = [[], [], [], []];
    for (const { fields } of this.rules.get(member.id) ?? []) {
      const step_id = (fields.step_id as string | null | undefined) ?? null;
      const of_kind = (fields.kind as string | null | undefined) ?? null;
      if (step_id !== null && !steps.includes(step_id)) continue;
      if (of_kind !== null && of_kind !== kind) continue;
      found[2 * Number(step_id !== null) + Number(of_kind !== null)]?.push(fields);
    }
    const old = member.fields[OLD_LEADS[kind] ?? ""] ?? null;
    const [all = [], of_kind = [], of_step = [], of_both = []] = found;
    const older = old === null ? [] : [{ lead_min: old }];
    return [...of_both, ...of_step, ...of_kind, ...older, ...all];
  }
}
