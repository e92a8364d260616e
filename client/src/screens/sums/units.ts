/**
 * Units as a yard says them. Sums are in SI with the unit in the name; a screen shows grams where a kilogram is too
 * coarse, and what is typed is turned back.
 */
import { region } from "../../words/index.ts";

interface Shown {
  word: string;
  /** What one unit of the sum is in the unit that is shown. */
  times: number;
}

const UNITS: Readonly<Record<string, Shown>> = {
  degC: { word: "°C", times: 1 },
  degF: { word: "°F", times: 1 },
  K: { word: "°C", times: 1 },
  um: { word: "µm", times: 1 },
  m2: { word: "m²", times: 1 },
  mm2: { word: "mm²", times: 1 },
  m3: { word: "m³", times: 1 },
  "m2/l": { word: "m²/l", times: 1 },
  "kg/m2": { word: "g/m²", times: 1000 },
  "kg/m3": { word: "kg/m³", times: 1 },
  "kg/min": { word: "g/min", times: 1000 },
  "min/m2": { word: "min/m²", times: 1 },
  "K/h": { word: "°C/h", times: 1 },
  deg: { word: "°", times: 1 },
  "1": { word: "", times: 1 },
};

export const shownUnit = (unit: string | undefined): Shown =>
  unit === undefined ? { word: "", times: 1 } : (UNITS[unit] ?? { word: unit, times: 1 });

/** Below one, these are said in the smaller unit. */
const SMALLER: Readonly<Record<string, string>> = { kg: "g", l: "ml" };
const SMALLER_TIMES = 1000;

/** A number of an answer with its unit: three figures that count, never fewer whole ones. */
export function measured(
  value: number,
  unit: string | undefined,
): { figure: string; word: string } {
  const small = unit !== undefined && Math.abs(value) < 1 ? SMALLER[unit] : undefined;
  const { word, times } = small ? { word: small, times: SMALLER_TIMES } : shownUnit(unit);
  return { figure: figures(value * times), word };
}

export function figures(value: number): string {
  const whole = Math.abs(value) >= 100;
  const digits = whole ? { maximumFractionDigits: 0 } : { maximumSignificantDigits: 3 };
  return new Intl.NumberFormat(region(), digits).format(value + 0);
}
