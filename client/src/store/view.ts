/** The refit as this phone knows it: rows from the server with the operations that still wait applied on top. */
import { type ReadonlySignal, signal } from "@preact/signals";
import type { View } from "./types.ts";

export {
  accounts,
  createRefit,
  join,
  me,
  recover,
  switchAccount,
} from "./accounts.ts";
export { OfflineError, ProblemError } from "./errors.ts";
export type {
  AccountRow,
  Difference,
  ItemRow,
  Json,
  Me,
  Problem,
  RecordRow,
  RefitBody,
  Refused,
  View,
} from "./types.ts";

const empty: View = {
  item: () => undefined,
  items: () => [],
  field: <T>() => null as T,
  members: () => [],
  records: () => [],
  allRecords: () => [],
  record: () => undefined,
  author: () => undefined,
  differences: [],
  refused: [],
  waitingFor: () => false,
};

export const view: ReadonlySignal<View> = signal<View>(empty);
