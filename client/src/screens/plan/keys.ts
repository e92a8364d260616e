/** Going about a timeline by the arrows: along a row, from row to row, to a row's ends. Most bars are not drawn. */
import type { Bar, Row } from "../../plan/rows.ts";

/** A bar by the numbers of its row and of itself in it. */
export interface Spot {
  row: number;
  bar: number;
}

/** Where a key leads from here; undefined where it leads nowhere. */
export function spotAfter(key: string, here: Spot, rows: readonly Row[]): Spot | undefined {
  const { row, bar } = here;
  const bars = rows[row]?.bars ?? [];
  const along = (n: number): Spot | undefined => (bars[n] ? { row, bar: n } : undefined);
  switch (key) {
    case "ArrowRight":
      return along(bar + 1);
    case "ArrowLeft":
      return along(bar - 1);
    case "Home":
      return along(0);
    case "End":
      return along(bars.length - 1);
    case "ArrowDown":
      return across(row + 1, bars[bar], rows);
    case "ArrowUp":
      return across(row - 1, bars[bar], rows);
    default:
      return undefined;
  }
}

/** The bar of another row that begins nearest in time. */
function across(row: number, from: Bar | undefined, rows: readonly Row[]): Spot | undefined {
  const bars = rows[row]?.bars;
  if (!from || !bars?.length) return undefined;
  const off = (n: number): number => Math.abs((bars[n] as Bar).x - from.x);
  const bar = bars.reduce((best, _, n) => (off(n) < off(best) ? n : best), 0);
  return { row, bar };
}
