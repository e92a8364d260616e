/**
 * Areas of simple shapes, and hulls by formula and by rule of thumb: the twin of the server's
 * `trade.shapes`, which gives theory, rules and sources.
 */

import { TradeError } from "./errors.ts";

export const LENGTHS = ["length_m", "width_m", "other_length_m", "height_m", "diameter_m"] as const;
export type LengthName = (typeof LENGTHS)[number];
export type Lengths = Readonly<Record<LengthName, number | null>>;

interface Formula {
  readonly lengths: readonly LengthName[];
  readonly area_m2: (...lengths: number[]) => number;
}

const formula = (lengths: LengthName[], area_m2: (...lengths: number[]) => number): Formula => ({
  lengths,
  area_m2,
});

const SHAPES = {
  rectangle: formula(["length_m", "width_m"], (a = 0, b = 0) => a * b),
  triangle: formula(["length_m", "height_m"], (a = 0, h = 0) => (a * h) / 2),
  trapezium: formula(
    ["length_m", "other_length_m", "height_m"],
    (a = 0, b = 0, h = 0) => ((a + b) * h) / 2,
  ),
  circle: formula(["diameter_m"], (d = 0) => (Math.PI * d * d) / 4),
  ellipse: formula(["length_m", "width_m"], (a = 0, b = 0) => (Math.PI * a * b) / 4),
  cylinder: formula(["diameter_m", "length_m"], (d = 0, a = 0) => Math.PI * d * a),
  half_cylinder: formula(["diameter_m", "length_m"], (d = 0, a = 0) => (Math.PI * d * a) / 2),
  cone: formula(
    ["diameter_m", "height_m"],
    (d = 0, h = 0) => ((Math.PI * d) / 2) * Math.hypot(d / 2, h),
  ),
  half_sphere: formula(["diameter_m"], (d = 0) => (Math.PI * d * d) / 2),
};

export type Shape = keyof typeof SHAPES;
export type HullPart =
  | "bottom_long_keel"
  | "bottom_cruising"
  | "bottom_fin_keel"
  | "bottom_multihull"
  | "topsides"
  | "deck";

const BOTTOM_FACTORS = { bottom_long_keel: 1, bottom_cruising: 0.75, bottom_fin_keel: 0.5 };
const MULTIHULL_FACTOR = (0.9 * Math.PI) / 4;
const DECK_FACTOR = 0.75;
const MUMFORD = 1.7;

/** Give the area of a shape from exactly its own lengths. */
export function shapeAreaM2(shape: Shape, lengths_m: Lengths): number {
  const { lengths, area_m2 } = SHAPES[shape];
  for (const name of LENGTHS) {
    const belongs = lengths.includes(name);
    if (belongs && lengths_m[name] === null) {
      throw new TradeError(name, `is needed for this shape (${shape})`);
    }
    if (!belongs && lengths_m[name] !== null) {
      throw new TradeError(name, `does not belong to this shape (${shape})`);
    }
  }
  return area_m2(...lengths.map((name) => lengths_m[name] ?? 0));
}

/** Give the displaced volume, from whichever of volume and mass is known. */
export function volumeM3(
  volume_m3: number | null,
  mass_kg: number | null,
  density_kg_m3: number,
): number {
  if ((volume_m3 === null) === (mass_kg === null)) {
    throw new TradeError("displacement_m3", "give the volume or the mass, one of them");
  }
  return volume_m3 ?? (mass_kg ?? 0) / density_kg_m3;
}

/** Give the wetted area of a hull by Denny and Mumford. */
export function mumfordM2(length_m: number, draft_m: number, displacement_m3: number): number {
  return MUMFORD * length_m * draft_m + displacement_m3 / draft_m;
}

/** Give a part of a boat by rule of thumb. */
export function hullPartM2(
  part: HullPart,
  length_m: number,
  beam_m: number,
  draft_m: number | null,
  freeboard_m: number | null,
  hulls: number,
): number {
  if (part === "deck") return DECK_FACTOR * length_m * beam_m;
  if (part === "topsides") {
    return 2 * (length_m + beam_m) * needed(freeboard_m, "freeboard_m", part);
  }
  const draft = needed(draft_m, "draft_m", part);
  if (part === "bottom_multihull") {
    return hulls * MULTIHULL_FACTOR * length_m * (beam_m + 2 * draft);
  }
  return BOTTOM_FACTORS[part] * length_m * (beam_m + draft);
}

function needed(length_m: number | null, field: string, part: string): number {
  if (length_m === null) throw new TradeError(field, `is needed for this part (${part})`);
  return length_m;
}
