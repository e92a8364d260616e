/** Going about a timeline by the arrows: one bar is in the order of the tab key, and moves with the focus. */

const BAR = "[data-testid=plan-bar]";

const barsOf = (row: Element): HTMLElement[] => [...row.querySelectorAll<HTMLElement>(BAR)];

/** Give the focus to the bar that an arrow leads to. */
export function move(event: KeyboardEvent, board: HTMLElement | null): void {
  const here = (event.target as Element).closest<HTMLElement>(BAR);
  if (board === null || here === null) return;
  const rows = [...board.querySelectorAll("[data-row]")].filter((row) => barsOf(row).length > 0);
  const n = rows.findIndex((row) => row.contains(here));
  const found = next(event.key, here, rows, n);
  if (!found) return;
  event.preventDefault();
  for (const bar of barsOf(board)) bar.setAttribute("tabindex", bar === found ? "0" : "-1");
  found.focus();
}

function next(key: string, here: HTMLElement, rows: Element[], n: number): HTMLElement | undefined {
  const row = barsOf(rows[n] as Element);
  const at = row.indexOf(here);
  switch (key) {
    case "ArrowRight":
      return row[at + 1];
    case "ArrowLeft":
      return row[at - 1];
    case "Home":
      return row[0];
    case "End":
      return row.at(-1);
    case "ArrowDown":
      return nearest(here, rows[n + 1]);
    case "ArrowUp":
      return nearest(here, rows[n - 1]);
    default:
      return undefined;
  }
}

/** The bar of another row that begins nearest in time. */
function nearest(here: HTMLElement, row: Element | undefined): HTMLElement | undefined {
  if (!row) return undefined;
  const x = Number(here.dataset.x);
  const off = (bar: HTMLElement): number => Math.abs(Number(bar.dataset.x) - x);
  return barsOf(row).reduce((best, bar) => (off(bar) < off(best) ? bar : best));
}
