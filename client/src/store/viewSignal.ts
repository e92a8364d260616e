/** The signal behind `view`, apart from it so that the store can set what the screens only read. */
import { signal } from "@preact/signals";
import type { View } from "./types.ts";

export const EMPTY: View = {
  item: () => undefined,
  items: () => [],
  gone: () => [],
  field: <T>() => null as T,
  members: () => [],
  records: () => [],
  trees: () => [],
  allRecords: () => [],
  record: () => undefined,
  author: () => undefined,
  differences: [],
  refused: [],
  waitingFor: () => false,
};

export const viewSignal = signal<View>(EMPTY);
