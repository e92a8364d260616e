/**
 * When a wet coat will lose its margin above the dew point before it is touch-dry: the twin of `trade.weather_edge`.
 *
 * - Asked from the later of start and measurement until touch-dry, each quarter of an hour, at most two days ahead.
 * - The dew point is held, and says nothing any more when it is older than a day.
 *
 * Source: the margin is that of ISO 8502-4, from memory, or the product's data sheet.
 */
import { dewPointC } from "./air.ts";
import { OutOfRangeError } from "./errors.ts";
import { tempAtS } from "./forecast.ts";
import { instantOf, secondsOf } from "./instants.ts";
import type { AirFacts } from "./readiness_air.ts";
import type { Track } from "./types.ts";

const LOOK_S = 900;
const AHEAD_S = 48 * 3600;
const DEW_HOLDS_S = 24 * 3600;
const EDGE_K = 1e-9;

export interface WeatherEdge {
  readonly known_at: number;
  readonly lost_at: number;
  readonly dry_at: number;
}

/** Give when a coat loses its margin; null when it keeps it, or nobody can say. */
export function weatherEdge(
  air: AirFacts,
  track: Track,
  margin_k: number,
  start_at: number,
  dry_at: number,
): WeatherEdge | null {
  const dewC = dewOf(air);
  if (dewC === null || air.measured_at === null) return null;
  const measuredS = secondsOf(air.measured_at);
  const fromS = Math.max(secondsOf(start_at), measuredS);
  const untilS = Math.min(secondsOf(dry_at), fromS + AHEAD_S);
  if (fromS - measuredS > DEW_HOLDS_S) return null;
  for (let atS = fromS; atS < untilS; atS += LOOK_S) {
    if (tempAtS(track, atS) - dewC < margin_k - EDGE_K) {
      return { known_at: instantOf(fromS), lost_at: instantOf(atS), dry_at };
    }
  }
  return null;
}

function dewOf({ air_c, rh_pct }: AirFacts): number | null {
  if (air_c === null || rh_pct === null) return null;
  try {
    return dewPointC(air_c, rh_pct);
  } catch (error) {
    if (!(error instanceof OutOfRangeError)) throw error;
    return null;
  }
}
