/**
 * A tack coat, the thin coat that lets the next one hold: the twin of the server's `trade.tack_coat`.
 *
 * A tack coat of epoxy is right on epoxy that would only want its gloss sanded off, or a tack coat.
 *
 * Source: 25 to 50 um wet, thinned 25 %: UFGS-09971, 3.7.1.4; 4 h: TB 43-0144 and NAVFAC MO-124. The sheet counts first.
 */

import { EPOXY } from "./compatibility_table.ts";

export const TACK_SOURCE = "UFGS-09971, 3.7.1.4; TB 43-0144, part 3; NAVFAC MO-124";
const STANDS_FOR: readonly string[] = ["sand", "tack_coat"];

export interface TackCoat {
  readonly wet_film_min_um: number;
  readonly wet_film_max_um: number;
  readonly thinning_pct: number;
  readonly wait_h: number;
}

export const TACK_COAT: TackCoat = {
  wet_film_min_um: 25,
  wet_film_max_um: 50,
  thinning_pct: 25,
  wait_h: 4,
};

/** Say whether a tack coat is itself what the table asks for before a coat goes on. */
export function isTheMend(
  over: string | null,
  under: string | null,
  answer: { readonly verdict: string; readonly mends: readonly string[] },
): boolean {
  const epoxy = [over, under].every((one) => EPOXY.some((known) => known === one));
  return (
    epoxy && answer.verdict === "only_if" && answer.mends.every((mend) => STANDS_FOR.includes(mend))
  );
}
