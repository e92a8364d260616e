/** The shapes that the merge works on, as docs/sync.md sections 3 and 4 give them. */

export type Json = null | boolean | number | string | Json[] | { [key: string]: Json };

export interface Item {
  kind: string;
  id: string;
  at: string;
  fields: Record<string, Json>;
  stamps: Record<string, string>;
  sets: Record<string, Record<string, string[]>>;
}

export interface Rec {
  kind: string;
  id: string;
  at: string;
  body: Record<string, Json>;
  replaces: string | null;
  void: boolean;
}

export interface Valued {
  value: Json;
  at: string;
}

export interface Difference {
  id: string;
  kind: string;
  item_id: string;
  field: string;
  kept: Valued;
  lost: Valued;
  settled: string | null;
}

/** One action as it was written down; what is inside is checked by `apply`. */
export type Action = { do: string } & Record<string, Json>;

export interface Operation {
  n: number;
  at: string;
  act: string;
  actions: Action[];
}

/** The rows at hand, by id; ids are unique across kinds within items and within records. */
export interface Rows {
  item(id: string): Item | undefined;
  record(id: string): Rec | undefined;
  difference(id: string): Difference | undefined;
}

/** The rows that an operation made or changed, and the ids that came out otherwise than sent. */
export interface Outcome {
  items: Map<string, Item>;
  records: Map<string, Rec>;
  differences: Map<string, Difference>;
  altered: Set<string>;
}

/** The stamp of a field's present value. */
export const stampOf = (item: Item, name: string): string =>
  Object.hasOwn(item.stamps, name) ? (item.stamps[name] as string) : item.at;

export const isGone = (item: Item): boolean => item.fields.gone === true;
