/** The sums of a laminate by their stable names, with plain JSON: what may be left out takes its default. */

import { filled, fillet } from "./fillet.ts";
import { laminate, type Ply, plyLaid, USUAL_WASTE, type Waste } from "./laminate.ts";
import { patch, strips, taper } from "./scarf.ts";

// biome-ignore lint/suspicious/noExplicitAny: the input comes from outside and is checked by the sums
type Input = any;

function ply(given: Input): Ply {
  return { glass_pct: null, ...given };
}

function waste(given: Input): Waste {
  return { ...USUAL_WASTE, ...given };
}

export const LAMINATE_SUMS: Readonly<Record<string, (input: Input) => unknown>> = {
  laminate_ply: (input) =>
    plyLaid(
      ply({ kind: input.kind, fibre_kg_m2: input.fibre_kg_m2, glass_pct: input.glass_pct ?? null }),
      input.fibre_kg_l,
      input.resin_kg_l,
    ),
  laminate_schedule: (input) =>
    laminate(
      input.plies.map(ply),
      input.area_m2,
      waste(input.waste),
      input.fibre_kg_l,
      input.resin_kg_l,
      input.on_gelcoat,
    ),
  scarf_taper: (input) => taper(input.hole_mm, input.thickness_mm, input.ratio),
  patch_plies: (input) =>
    patch({ ...input, plies: input.plies.map(ply), waste: waste(input.waste) }),
  cloth_strips: (input) =>
    strips(
      input.width_mm,
      input.length_mm,
      input.roll_mm,
      input.plies_n,
      input.overlap_mm,
      input.stagger_mm,
    ),
  fillet_volume: (input) => fillet(input.radius_mm, input.length_m, input.angle_deg),
  filler_mix: (input) =>
    filled(
      input.volume_l,
      input.filler,
      input.consistency,
      input.parts ?? null,
      input.resin_kg_l,
      input.waste_pct,
    ),
};
