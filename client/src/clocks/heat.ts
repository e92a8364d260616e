/**
 * Heat index, what the air does to people who work in it: the twin of the server's `trade.heat`,
 * which gives theory and rules.
 *
 * Source: US National Weather Service, heat index equation (Rothfusz 1990) with its adjustments.
 */

export type HeatLevel = "none" | "caution" | "extreme_caution" | "danger" | "extreme_danger";

export const CHART_END_F = 137;
export const SUN_F = 15;
const SIMPLE_BELOW_F = 80;
const LEVELS: readonly (readonly [number, HeatLevel])[] = [
  [125, "extreme_danger"],
  [103, "danger"],
  [90, "extreme_caution"],
  [80, "caution"],
];

/** Give the heat index in degF, from degF. */
export function heatIndexF(air_f: number, rh_pct: number): number {
  const simple_f = 0.5 * (air_f + 61 + (air_f - 68) * 1.2 + rh_pct * 0.094);
  const average_f = (simple_f + air_f) / 2;
  if (average_f < SIMPLE_BELOW_F) return average_f;
  return rothfuszF(air_f, rh_pct) + adjustmentF(air_f, rh_pct);
}

/** Name the class of a heat index on the published chart. */
export function heatLevel(index_f: number): HeatLevel {
  return LEVELS.find(([from_f]) => index_f >= from_f)?.[1] ?? "none";
}

function rothfuszF(t: number, r: number): number {
  return (
    -42.379 +
    2.04901523 * t +
    10.14333127 * r -
    0.22475541 * t * r -
    0.00683783 * t * t -
    0.05481717 * r * r +
    0.00122874 * t * t * r +
    0.00085282 * t * r * r -
    0.00000199 * t * t * r * r
  );
}

function adjustmentF(t: number, r: number): number {
  if (r < 13 && t >= 80 && t <= 112) {
    return (-(13 - r) / 4) * Math.sqrt((17 - Math.abs(t - 95)) / 17);
  }
  if (r > 85 && t >= 80 && t <= 87) return (((r - 85) / 10) * (87 - t)) / 5;
  return 0;
}
