/**
 * A tack coat, the thin coat that lets the next one hold: the twin of the server's `trade.tack_coat`.
 *
 * Source: 25 to 50 um wet, thinned 25 %: UFGS-09971, 3.7.1.4; 4 h: TB 43-0144 and NAVFAC MO-124. The sheet counts first.
 */

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
