/**
 * Humidity from a wet and a dry bulb, and the wet bulb from humidity: the twin of the server's
 * `trade.psychrometer`, which gives the theory.
 *
 * Source: ASHRAE Handbook, Fundamentals, psychrometrics; vapour pressure as in WMO-No. 8.
 */

import { dewPointC, MAGNUS_A, MAGNUS_B_C } from "./air.ts";
import { OutOfRangeError } from "./errors.ts";

const MAGNUS_E_HPA = 6.112;
const WATER_TO_AIR = 0.621945;
const HALVINGS = 60;

/** Give the pressure of saturated vapour over water. */
export function vapourPressureHpa(temp_c: number): number {
  return MAGNUS_E_HPA * Math.exp((MAGNUS_A * temp_c) / (MAGNUS_B_C + temp_c));
}

/** Give the humidity of air whose dew point is known. */
export function rhOfDewPointPct(air_c: number, dew_c: number): number {
  if (dew_c > air_c) {
    throw new OutOfRangeError("dew_point_c", "must not lie above the temperature of the air");
  }
  return (100 * vapourPressureHpa(dew_c)) / vapourPressureHpa(air_c);
}

/** Give the humidity from the two bulbs of a psychrometer. */
export function rhOfWetBulbPct(dry_c: number, wet_c: number, pressure_hpa: number): number {
  if (wet_c > dry_c) throw new OutOfRangeError("wet_bulb_c", "must not lie above the dry bulb");
  const rh_pct = rhPct(dry_c, wet_c, pressure_hpa);
  if (rh_pct <= 0) {
    throw new OutOfRangeError("wet_bulb_c", "no air is dry enough: read both bulbs again");
  }
  return Math.min(rh_pct, 100);
}

/** Give the wet bulb of air, for water even below 0 degC. */
export function wetBulbC(air_c: number, rh_pct: number, pressure_hpa: number): number {
  let low = dewPointC(air_c, rh_pct);
  let high = air_c;
  for (let i = 0; i < HALVINGS; i += 1) {
    const middle = (low + high) / 2;
    if (rhPct(air_c, middle, pressure_hpa) < rh_pct) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function rhPct(dry_c: number, wet_c: number, pressure_hpa: number): number {
  const saturated = vapourPressureHpa(wet_c);
  const most = (WATER_TO_AIR * saturated) / (pressure_hpa - saturated);
  const water =
    ((2501 - 2.326 * wet_c) * most - 1.006 * (dry_c - wet_c)) /
    (2501 + 1.86 * dry_c - 4.186 * wet_c);
  const vapour_hpa = (water * pressure_hpa) / (WATER_TO_AIR + water);
  return (100 * vapour_hpa) / vapourPressureHpa(dry_c);
}
