/**
 * The things that the clock sums take and give: the twin of the server's `trade.types`.
 *
 * Rules
 * - Names are the names of the JSON, snake_case; units stand last.
 * - An instant `_at` is a number: milliseconds since the epoch, UTC. JSON carries it as ISO text, and
 *   `instants.ts` turns one into the other. Inside the sums `_s` are seconds since the epoch.
 * - What is not known is null, as in the JSON.
 */

export type Stage =
  | "pot_life"
  | "gel"
  | "touch_dry"
  | "recoat_opens"
  | "recoat_closes"
  | "sandable"
  | "immerse_opens"
  | "immerse_closes";
export type Kind = "opens" | "closes";
export type Basis = "data_sheet" | "beyond" | "rule_of_thumb";

export const POT_STAGES: readonly Stage[] = ["pot_life", "gel"];
export const COAT_STAGES: readonly Stage[] = [
  "touch_dry",
  "recoat_opens",
  "recoat_closes",
  "sandable",
  "immerse_opens",
  "immerse_closes",
];
export const STAGES: readonly Stage[] = [...POT_STAGES, ...COAT_STAGES];

export const KIND_OF: Readonly<Record<Stage, Kind>> = {
  pot_life: "closes",
  gel: "closes",
  touch_dry: "opens",
  recoat_opens: "opens",
  recoat_closes: "closes",
  sandable: "opens",
  immerse_opens: "opens",
  immerse_closes: "closes",
};

export const BASES: readonly Basis[] = ["data_sheet", "beyond", "rule_of_thumb"];

/** Give the poorest of the bases, `data_sheet` when there are none. */
export function worstBasis(bases: readonly Basis[]): Basis {
  let worst: Basis = "data_sheet";
  for (const basis of bases) {
    if (BASES.indexOf(basis) > BASES.indexOf(worst)) worst = basis;
  }
  return worst;
}

export interface StagePoint {
  readonly temp_c: number;
  readonly minutes: number;
}

export interface HottestHourRow {
  readonly from_c: number;
  readonly to_c: number;
  readonly closes_minutes: number;
}

export interface Ratio {
  readonly base: number;
  readonly hardener: number;
}

export interface CatalystRange {
  readonly min_pct: number;
  readonly usual_pct: number;
  readonly max_pct: number;
}

export interface InductionBand {
  readonly from_c: number;
  readonly to_c: number | null;
  readonly minutes: number;
}

export interface Mix {
  readonly by_mass: Ratio | null;
  readonly by_volume: Ratio | null;
  readonly catalyst: CatalystRange | null;
  readonly induction_minutes: number | null;
  readonly pot_reference_kg: number | null;
  readonly induction_by_temp?: readonly InductionBand[];
}

export interface Limits {
  readonly temp_min_c: number | null;
  readonly temp_max_c: number | null;
  readonly rh_max_pct: number | null;
  readonly dew_margin_min_c: number | null;
}

export interface Soak {
  readonly temp_c: number;
  readonly minutes: number;
}

export interface PostCure {
  readonly ramp_k_h: number;
  readonly soaks: readonly Soak[];
}

export interface Profile {
  readonly id: string;
  readonly version: number;
  readonly product_class: string;
  readonly name: Readonly<Record<string, string>>;
  readonly typical: boolean;
  readonly basis_note: string;
  readonly stages: Readonly<Partial<Record<Stage, readonly StagePoint[]>>>;
  readonly closes_by_hottest_hour: readonly HottestHourRow[];
  readonly mix: Mix;
  readonly density_kg_l: number | null;
  readonly solids_by_volume_pct: number | null;
  readonly film_um: number | null;
  readonly limits: Limits;
  readonly sanding_after_missed_minutes_per_m2: number | null;
  readonly cautions: readonly string[];
  readonly compatibility: string | null;
  readonly post_cure: PostCure | null;
}

export interface Reading {
  readonly at: number;
  readonly air_c: number | null;
  readonly surface_c: number | null;
  readonly rh_pct: number | null;
}

export interface DailyCurve {
  readonly min_c: number;
  readonly max_c: number;
  readonly hour_of_max: number;
  readonly utc_offset_s: number;
}

export interface Knot {
  readonly at_s: number;
  readonly temp_c: number;
  readonly measured: boolean;
}

export interface Track {
  readonly knots: readonly Knot[];
  readonly repeats_from: number;
  readonly last_reading_at_s: number | null;
}

export interface Band {
  readonly measured_k: number;
  readonly forecast_k: number;
}

export const USUAL_BAND: Band = { measured_k: 1, forecast_k: 3 };

export interface Coat {
  readonly id: string;
  readonly profile: Profile;
  readonly start_at: number;
  readonly end_at: number | null;
}

export interface Pot {
  readonly id: string;
  readonly profile: Profile;
  readonly stirred_at: number;
  readonly temp_c: number | null;
  readonly mass_kg: number | null;
}

export interface Clock {
  readonly source_id: string;
  readonly stage: Stage;
  readonly kind: Kind;
  readonly at: number | null;
  readonly fast_at: number | null;
  readonly slow_at: number | null;
  readonly governing_at: number | null;
  readonly last_start_at: number | null;
  readonly basis: Basis;
  readonly stale: boolean;
  readonly reasons: readonly string[];
}
