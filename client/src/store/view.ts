/** The refit as this phone knows it: rows from the server with the operations that still wait applied on top. */
import type { ReadonlySignal } from "@preact/signals";
import type { View } from "./types.ts";
import { viewSignal } from "./viewSignal.ts";

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

export const view: ReadonlySignal<View> = viewSignal;
