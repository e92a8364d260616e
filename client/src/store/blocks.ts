/**
 * The pages of a snapshot on this phone. Each is kept as the text in which it came and lies below the single rows that
 * came later: ten thousand rows are two writes, and are read again in the time of two.
 */
import type { Difference } from "../merge/state.ts";
import type { Aside, PhoneDb, Row } from "./db.ts";

export interface BlockRows {
  changes: Row[];
  differences: Difference[];
}

/** All pages of one snapshot. */
export const allOf = (version: string): IDBKeyRange =>
  IDBKeyRange.bound([version, 0], [version, Number.POSITIVE_INFINITY]);

/** Read a page's text; null where it is none, such as the page of a captive portal. */
export function readBlock(text: string): BlockRows | null {
  try {
    const { changes, differences } = JSON.parse(text) as BlockRows;
    return Array.isArray(changes) && Array.isArray(differences) ? { changes, differences } : null;
  } catch {
    return null;
  }
}

/** The rows of pages, of the first one first. */
export function rowsOfBlocks(blocks: { text: string }[]): BlockRows {
  const pages = blocks.flatMap(({ text }) => readBlock(text) ?? []);
  return {
    changes: pages.flatMap((page) => page.changes),
    differences: pages.flatMap((page) => page.differences),
  };
}

/** The number of the first page that a whole fresh copy still lacks; null where it lacks none. */
export async function lackingPage(db: PhoneDb, aside: Aside | null): Promise<number | null> {
  if (!aside?.snapshot) return null;
  const keys = await db.getAllKeys("blocks", allOf(aside.snapshot.version));
  const here = new Set(keys.map(([, number]) => number));
  for (let number = 0; number < aside.snapshot.pages; number++) {
    if (!here.has(number)) return number;
  }
  return null;
}
