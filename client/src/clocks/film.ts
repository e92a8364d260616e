/**
 * Wet and dry film, and how far a litre goes: the twin of the server's `trade.film`, which gives
 * theory, rules and sources.
 */

import { TradeError } from "./errors.ts";

export type Method = "brush" | "roller" | "airless_spray" | "air_spray";

export interface Loss {
  readonly low_pct: number;
  readonly usual_pct: number;
  readonly high_pct: number;
}

const UM_M2_PER_L = 1000;
const EDGE = 1e-9;

/** Loss by method: common practice, no source. */
export const LOSS_BY_METHOD: Readonly<Record<Method, Loss>> = {
  brush: { low_pct: 5, usual_pct: 8, high_pct: 15 },
  roller: { low_pct: 5, usual_pct: 10, high_pct: 20 },
  airless_spray: { low_pct: 20, usual_pct: 30, high_pct: 40 },
  air_spray: { low_pct: 35, usual_pct: 45, high_pct: 60 },
};

/** Give the solids by volume of paint after thinning. */
export function solidsThinnedPct(solids_by_volume_pct: number, thinning_pct: number): number {
  return solids_by_volume_pct / (1 + thinning_pct / 100);
}

/** Give the wet film that dries to a dry film. */
export function wetFilmUm(dry_um: number, solids_pct: number, thinning_pct: number): number {
  return (dry_um * 100) / solidsThinnedPct(solids_pct, thinning_pct);
}

/** Give the dry film that a wet film leaves. */
export function dryFilmUm(wet_um: number, solids_pct: number, thinning_pct: number): number {
  return (wet_um * solidsThinnedPct(solids_pct, thinning_pct)) / 100;
}

/** Give the square metres that a litre from the tin covers when nothing is lost. */
export function theoreticalM2PerL(dry_um: number, solids_pct: number): number {
  return (UM_M2_PER_L * solids_pct) / 100 / dry_um;
}

/** Give the loss that is meant: the one that is given, or the usual one of the method. */
export function lossPctOf(loss_pct: number | null, method: Method | null): number {
  if (loss_pct !== null && method !== null) {
    throw new TradeError("loss_pct", "give the loss or the method, not both");
  }
  return method !== null ? LOSS_BY_METHOD[method].usual_pct : (loss_pct ?? 0);
}

/** Give what is left of an amount after the loss. */
export function afterLoss(amount: number, loss_pct: number): number {
  return amount * (1 - loss_pct / 100);
}

/** Give what must be there so that an amount is left after the loss. */
export function beforeLoss(amount: number, loss_pct: number): number {
  return amount / (1 - loss_pct / 100);
}

/** Give the number of coats that reach a total dry film. */
export function coatsTo(total_um: number, coat_um: number): number {
  return Math.max(1, Math.ceil(total_um / coat_um - EDGE));
}

/** Two teeth of a wet-film comb: the one that the paint must reach, and the next above. */
export interface Teeth {
  readonly must_be_wet_um: number;
  readonly should_stay_dry_um: number | null;
}

/** Give the tooth that shows that the wet film is thick enough, and the one above it. */
export function combTeeth(wet_um: number, teeth_um: readonly number[]): Teeth {
  if (teeth_um.some((tooth, i) => i > 0 && !((teeth_um[i - 1] ?? tooth) < tooth))) {
    throw new TradeError("teeth_um", "must rise from tooth to tooth");
  }
  const [must_be_wet_um, next] = teeth_um.filter((tooth) => tooth >= wet_um - EDGE * wet_um);
  if (must_be_wet_um === undefined) {
    throw new TradeError("teeth_um", `no tooth reaches ${Math.round(wet_um)} um`);
  }
  return { must_be_wet_um, should_stay_dry_um: next ?? null };
}
