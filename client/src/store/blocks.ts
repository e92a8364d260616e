/**
 * The pages of a snapshot on this phone. Each is kept as the text in which it came and lies below the single rows that
 * came later: ten thousand rows are two writes, and are read again in the time of two.
 *
 * A page holds its rows as tables, one list for each field; see docs/sync.md, section 3.
 */
import type { Difference, Item, Json, Rec } from "../merge/state.ts";
import type { Aside, PhoneDb, Row } from "./db.ts";

export interface BlockRows {
  changes: Row[];
  differences: Difference[];
}

type Columns = Record<string, Json[]>;

/** Rows of one kind that have the same fields; what few of them have stands by the row's place. */
export interface Table {
  kind: string;
  id: string[];
  at: string[];
  fields?: Columns;
  stamps?: Record<string, Item["stamps"]>;
  sets?: Record<string, Item["sets"]>;
  body?: Columns;
  replaces?: Record<string, string>;
  void?: Record<string, true>;
}

export interface BlockPage {
  tables: Table[];
  differences: Difference[];
}

/** All pages of one snapshot. */
export const allOf = (version: string): IDBKeyRange =>
  IDBKeyRange.bound([version, 0], [version, Number.POSITIVE_INFINITY]);

/** Read a page's text; null where it is none, such as the page of a captive portal. */
export function readBlock(text: string): BlockPage | null {
  try {
    const { tables, differences } = JSON.parse(text) as BlockPage;
    return Array.isArray(tables) && Array.isArray(differences) ? { tables, differences } : null;
  } catch {
    return null;
  }
}

/** The rows of pages, of the first one first. */
export function rowsOfBlocks(blocks: { text: string }[]): BlockRows {
  const pages = blocks.flatMap(({ text }) => readBlock(text) ?? []);
  return {
    changes: pages.flatMap((page) => page.tables.flatMap(rowsOfTable)),
    differences: pages.flatMap((page) => page.differences),
  };
}

function rowsOfTable({ kind, id, at, fields, body, ...few }: Table): Row[] {
  const columns = Object.entries(fields ?? body ?? {});
  return id.map((one, place): Row => {
    const values: Record<string, Json> = {};
    for (const [name, column] of columns) values[name] = column[place] as Json;
    const head = { kind, id: one, at: at[place] as string };
    if (body) return { ...head, body: values, ...correction(few, place) };
    const [stamps, sets] = [few.stamps?.[place] ?? {}, few.sets?.[place] ?? {}];
    return { ...head, fields: values, stamps, sets };
  });
}

const correction = (few: Partial<Table>, place: number): Pick<Rec, "replaces" | "void"> => ({
  replaces: few.replaces?.[place] ?? null,
  void: few.void?.[place] ?? false,
});

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
