/**
 * Fillets and filler, how much a bead takes: the twin of the server's `trade.fillet`.
 *
 * Theory: a concave fillet of radius r in an included angle theta has the face r^2 (1 / tan(theta / 2) - (pi - theta)
 * / 2); a square millimetre along a metre is a millilitre. Filler by loose volume swells the mix by its grains only.
 *
 * Source: geometry; parts and densities of fillers are common practice, no source.
 */

import { TradeError } from "./errors.ts";
import { WASTE_MAX_PCT, WASTE_PCT, within } from "./laminate.ts";

export type Filler = "silica" | "fibre" | "bubbles";
export type Consistency = "runs" | "sags" | "stands";

export const EPOXY_KG_L = 1.15;

interface FillerKind {
  readonly loose_kg_l: number;
  readonly grain_kg_l: number;
  readonly parts: Readonly<Record<Consistency, readonly [number, number]>>;
  readonly structural: boolean;
}

export const FILLERS: Readonly<Record<Filler, FillerKind>> = {
  silica: {
    loose_kg_l: 0.05,
    grain_kg_l: 2.2,
    parts: { runs: [0.5, 1], sags: [1, 1.5], stands: [1.5, 2.5] },
    structural: true,
  },
  fibre: {
    loose_kg_l: 0.2,
    grain_kg_l: 1.5,
    parts: { runs: [0.3, 0.6], sags: [0.6, 1], stands: [1, 1.6] },
    structural: true,
  },
  bubbles: {
    loose_kg_l: 0.12,
    grain_kg_l: 0.2,
    parts: { runs: [0.7, 1.2], sags: [1.2, 2], stands: [2, 3] },
    structural: false,
  },
};

export interface Fillet {
  readonly leg_mm: number;
  readonly throat_mm: number;
  readonly face_mm2: number;
  readonly ml_per_m: number;
  readonly volume_l: number;
}

export interface Filled {
  readonly resin_kg: number;
  readonly filler_kg: number;
  readonly filler_loose_l: number;
  readonly paste_l: number;
  readonly density_kg_l: number;
  readonly parts_low: number;
  readonly parts_high: number;
  readonly typical: boolean;
  readonly structural: boolean;
}

/** Give the volume of a concave fillet. */
export function fillet(radius_mm: number, length_m: number, angle_deg = 90): Fillet {
  const radius = within(radius_mm, "radius_mm", 0.1, 1000);
  const length = within(length_m, "length_m", 0, 100_000);
  const angle = (within(angle_deg, "angle_deg", 10, 170) * Math.PI) / 180;
  const face = radius * radius * (1 / Math.tan(angle / 2) - (Math.PI - angle) / 2);
  return {
    leg_mm: radius / Math.tan(angle / 2),
    throat_mm: radius * (1 / Math.sin(angle / 2) - 1),
    face_mm2: face,
    ml_per_m: face,
    volume_l: (face * length) / 1000,
  };
}

/** Give resin and filler for a volume of paste that is to be laid. */
export function filled(
  volume_l: number,
  filler: Filler,
  consistency: Consistency,
  parts: number | null = null,
  resin_kg_l = EPOXY_KG_L,
  waste_pct = WASTE_PCT,
): Filled {
  if (!Object.hasOwn(FILLERS, filler)) {
    throw new TradeError("filler", `must be one of ${Object.keys(FILLERS).join(", ")}`);
  }
  const kind = FILLERS[filler];
  if (!Object.hasOwn(kind.parts, consistency)) {
    throw new TradeError("consistency", `must be one of ${Object.keys(kind.parts).join(", ")}`);
  }
  const laid = within(volume_l, "volume_l", 0, 10_000);
  const [low, high] = kind.parts[consistency];
  const used = parts === null ? (low + high) / 2 : within(parts, "parts", 0, 10);
  const rho = within(resin_kg_l, "resin_kg_l", 0.5, 5);
  const lost = within(waste_pct, "waste_pct", 0, WASTE_MAX_PCT) / 100;
  const paste_l = laid / (1 - lost);
  const swell = 1 + (used * kind.loose_kg_l) / kind.grain_kg_l;
  const resinL = paste_l / swell;
  return {
    resin_kg: resinL * rho,
    filler_kg: resinL * used * kind.loose_kg_l,
    filler_loose_l: resinL * used,
    paste_l,
    density_kg_l: (rho + used * kind.loose_kg_l) / swell,
    parts_low: low,
    parts_high: high,
    typical: parts === null,
    structural: kind.structural,
  };
}
