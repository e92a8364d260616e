/**
 * The warnings of steps that were given a time: the twin of the server's `reckoning.step_warnings`.
 *
 * - They go to who has the step, and where nobody has it to the owners; also to who asked for them.
 * - `step_due` before the planned start while it has not begun; `step_late` after the start, once it has begun after the
 *   end; `weather_edge` before a planned coat that would lose its margin above the dew point before it is dry.
 */
import { coatClock } from "../../clocks/cure.ts";
import { TradeError } from "../../clocks/errors.ts";
import { isoOf } from "../../clocks/instants.ts";
import type { StepState as Story } from "../../clocks/steps.ts";
import { RULE_3K } from "../../clocks/surface.ts";
import type { Profile } from "../../clocks/types.ts";
import type { WarningKind } from "../../clocks/warning_kinds.ts";
import type { Warning } from "../../clocks/warnings.ts";
import { readProfile } from "../profile.ts";
import type { ItemRow, View } from "../types.ts";
import { writtenAt } from "./refit_warnings.ts";
import type { RingRules } from "./rules.ts";
import type { Weather } from "./weather.ts";

export const BEGUN = new Set(["finished", "signed_off", "under_way", "curing"]);
const SETTLED = new Set(["finished", "signed_off", "held"]);
const LAYS = new Set(["coat", "laminate", "fillet", "fair", "bed"]);
const DUE_USEFUL_MS = 4 * 3600 * 1000;

/** How long a step is planned to take, in seconds; 0 where nobody said. */
export const coatS = ({ fields }: ItemRow): number =>
  (3600 * ((fields.labour_h as number | null | undefined) ?? 0)) /
  ((fields.crew_size as number | null | undefined) || 1);

export interface Planned {
  step: ItemRow;
  state: string;
  start_at: number;
  end_at: number | null;
}

export class StepWarnings {
  readonly planned: Planned[];

  constructor(
    private readonly rows: View,
    stories: ReadonlyMap<string, Story>,
    private readonly rules: RingRules,
    private readonly weather: Weather,
  ) {
    this.planned = rows.items("step").flatMap((step) => plannedOf(rows, step, stories));
  }

  /** Whom a step concerns. */
  members(step: ItemRow): ItemRow[] {
    const crew = this.rows.items("member");
    const has = new Set(this.rows.members(step, "assignees"));
    const asked = new Set(this.rules.followers([step.id]));
    let people = crew.filter((one) => has.has(one.id));
    if (people.length === 0) people = crew.filter((one) => one.fields.role === "owner");
    return [...new Set([...people, ...crew.filter((one) => asked.has(one.id))])];
  }

  of(planned: Planned, member: ItemRow): Warning[] {
    const { step, start_at, end_at, state } = planned;
    const begun = BEGUN.has(state);
    const after = (this.rules.ring(member, "step_late", [step.id]).lead_s ?? 0) * 1000;
    const late_from = begun ? end_at : start_at;
    return [
      ...(begun ? [] : this.due(planned, member)),
      ...(late_from === null ? [] : [warning(planned, "step_late", late_from + after, null)]),
      ...(begun ? [] : this.edge(planned, member)),
    ];
  }

  private due(planned: Planned, member: ItemRow): Warning[] {
    const { step, start_at, end_at } = planned;
    const ring = this.rules.ring(member, "step_due", [step.id]);
    const due_at = start_at - 1000 * ((ring.lead_s ?? 0) + ring.walk_s);
    const written = writtenAt(step, "planned_start_at");
    if (written > start_at) return [];
    const useless = Math.max(end_at ?? start_at, start_at + DUE_USEFUL_MS);
    return [warning(planned, "step_due", written > due_at ? start_at : due_at, useless)];
  }

  private edge(planned: Planned, member: ItemRow): Warning[] {
    const { step, start_at } = planned;
    const product = this.rows.item("product", (step.fields.product_id as string | null) ?? "");
    if (!product || !LAYS.has(String(step.fields.kind))) return [];
    if (!this.weather.speaksOf(start_at)) return [];
    const profile = profileOf(product);
    if (profile === null) return [];
    const coat = { id: step.id, profile, start_at, end_at: start_at + coatS(step) * 1000 };
    const clocks = coatClock(coat, this.weather.track, start_at);
    const dry_at = clocks.find((one) => one.stage === "touch_dry")?.governing_at ?? null;
    const edge = this.weather.edge(marginOf(profile), start_at, dry_at);
    if (edge === null) return [];
    const ring = this.rules.ring(member, "weather_edge", [step.id]);
    const ahead_at = start_at - 1000 * ((ring.lead_s ?? 0) + ring.walk_s);
    const due_at = Math.max(ahead_at, this.weather.measured_at ?? ahead_at);
    const { lost_at } = edge;
    return [warning(planned, "weather_edge", due_at, edge.dry_at, { lost_at, dry_at })];
  }
}

/** How far a product's surface must stay above the dew point. */
export const marginOf = ({ limits }: Profile): number => limits.dew_margin_min_c ?? RULE_3K;

function profileOf(product: ItemRow): Profile | null {
  try {
    return readProfile(product.fields.profile ?? null);
  } catch (error) {
    if (error instanceof TradeError) return null;
    throw error;
  }
}

function plannedOf(rows: View, step: ItemRow, stories: ReadonlyMap<string, Story>): Planned[] {
  const start = step.fields.planned_start_at as string | null | undefined;
  const end = step.fields.planned_end_at as string | null | undefined;
  const state = stories.get(step.id)?.state ?? "waiting";
  const job = rows.item("job", String(step.fields.job_id ?? ""));
  if (!start || job?.fields.gone === true || SETTLED.has(state)) return [];
  return [{ step, state, start_at: Date.parse(start), end_at: end ? Date.parse(end) : null }];
}

function warning(
  { step, state, start_at, end_at }: Planned,
  kind: WarningKind,
  due_at: number,
  useless_after: number | null,
  more: Record<string, number | null> = {},
): Warning {
  const params: Record<string, string> = { state };
  const known = { planned_start_at: start_at, planned_end_at: end_at, ...more };
  for (const [name, at] of Object.entries(known)) if (at !== null) params[name] = isoOf(at);
  return { id: `${step.id}.${kind}`, kind, source_id: step.id, due_at, useless_after, params };
}
