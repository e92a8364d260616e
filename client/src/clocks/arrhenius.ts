/**
 * How long a stage takes at a steady temperature: the twin of the server's `trade.arrhenius`.
 *
 * Theory: ln(time) is a straight line in 1/T (kelvin) between two points of the data sheet; past the
 * first or last point the end line goes on (`beyond`). A single point doubles its rate each 10 degC
 * (`rule_of_thumb`). A billionth of a degree past the sheet still counts as the sheet.
 *
 * Source: Arrhenius as in ASTM C1074; doubling per 10 degC as in UFGS-09971, 3.7.1.3.
 */

import { TradeError } from "./errors.ts";
import { bisectLeft, last, nth } from "./lists.ts";
import type { Basis, StagePoint } from "./types.ts";

export const DOUBLING_K = 10;
const SHEET_EDGE_K = 1e-9;
const KELVIN_AT_0_C = 273.15;
const S_PER_MINUTE = 60;

export interface StageTime {
  readonly seconds: number;
  readonly basis: Basis;
}

interface Line {
  readonly a: number;
  readonly b: number;
}

/** The points of one stage made ready: ln(seconds) = a + b / T on each line. */
export class Law {
  readonly temps_c: readonly number[];
  private readonly kinks_c: readonly number[];
  private readonly lines: readonly Line[];
  private readonly ln_seconds: number;

  constructor(temps_c: readonly number[], lines: readonly Line[], ln_seconds: number) {
    this.temps_c = temps_c;
    this.kinks_c = temps_c.slice(1, -1);
    this.lines = lines;
    this.ln_seconds = ln_seconds;
  }

  /** Give ln(seconds) at a steady temperature. */
  lnTime(temp_c: number): number {
    if (this.lines.length === 0) {
      return this.ln_seconds - (Math.log(2) * (temp_c - nth(this.temps_c, 0))) / DOUBLING_K;
    }
    const kinks = this.kinks_c;
    const { a, b } = nth(
      this.lines,
      bisectLeft(kinks.length, temp_c, (i) => nth(kinks, i)),
    );
    return a + b / (temp_c + KELVIN_AT_0_C);
  }

  /** Give the part of the stage that is done in a second at this temperature. */
  rate(temp_c: number): number {
    return Math.exp(-this.lnTime(temp_c));
  }

  /** Say whether the temperature lies past the sheet's first or last point. */
  beyond(temp_c: number): boolean {
    const low = nth(this.temps_c, 0) - SHEET_EDGE_K;
    const high = last(this.temps_c) + SHEET_EDGE_K;
    return !(low <= temp_c && temp_c <= high);
  }

  /** Name the basis of an answer that went, or did not go, past the sheet. */
  basis(beyond: boolean): Basis {
    if (this.lines.length === 0) return "rule_of_thumb";
    return beyond ? "beyond" : "data_sheet";
  }
}

/** Make the points of a stage ready for use. */
export function lawOf(points: readonly StagePoint[]): Law {
  if (points.length === 0) throw new TradeError("points", "a stage needs at least one point");
  if (points.some((point) => !(point.minutes > 0))) {
    throw new TradeError("points", "a stage takes more than no time");
  }
  const ordered = [...points].sort((one, other) => one.temp_c - other.temp_c);
  const temps_c = ordered.map((point) => point.temp_c);
  const logs = ordered.map((point) => Math.log(point.minutes * S_PER_MINUTE));
  const lines: Line[] = [];
  for (let i = 1; i < ordered.length; i += 1) {
    if (nth(temps_c, i) === nth(temps_c, i - 1)) {
      throw new TradeError("points", "two points stand at one temperature");
    }
    lines.push(line(nth(temps_c, i - 1), nth(logs, i - 1), nth(temps_c, i), nth(logs, i)));
  }
  return new Law(temps_c, lines, nth(logs, 0));
}

/** Give how long a stage takes at a steady temperature. */
export function stageTime(points: readonly StagePoint[], temp_c: number): StageTime {
  const law = lawOf(points);
  return { seconds: Math.exp(law.lnTime(temp_c)), basis: law.basis(law.beyond(temp_c)) };
}

function line(temp1C: number, log1: number, temp2C: number, log2: number): Line {
  const inverse1 = 1 / (temp1C + KELVIN_AT_0_C);
  const inverse2 = 1 / (temp2C + KELVIN_AT_0_C);
  const b = (log2 - log1) / (inverse2 - inverse1);
  return { a: log1 - b * inverse1, b };
}
