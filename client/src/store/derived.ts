/** What follows from the view, the time and the cure clocks. */
import { type ReadonlySignal, signal } from "@preact/signals";
import type { ItemRow, RecordRow } from "./types.ts";

export type StepState =
  | "waiting"
  | "ready"
  | "under_way"
  | "curing"
  | "held"
  | "finished"
  | "signed_off";

/** One clock of an application or a mix. Instants are milliseconds since 1970; null where there is no answer. */
export interface ClockRow {
  /** `${root_id}.${kind}`: the same for every correction of one record. */
  alarm_id: string;
  /** recoat_opens recoat_closes sandable immerse_opens immerse_closes pot_life gel ... as clocks/ names them. */
  kind: string;
  source: "application" | "mix";
  root_id: string;
  record_id: string;
  started_at: number;
  /** The edge that a person goes by: the slow one for what opens, the fast one for what closes. */
  at: number | null;
  fast_at: number | null;
  slow_at: number | null;
  basis: string;
  reasons: string[];
  /** The governing edge lies ahead. */
  running: boolean;
  step_id: string | null;
  zone_id: string | null;
  job_id: string | null;
  product_id: string | null;
  member_id: string | null;
  product_name: string;
  zone_name: string;
  job_title: string;
  step_title: string;
}

/** A warning that is owed to people. */
export interface WarningRow {
  alarm_id: string;
  kind: string;
  due_at: number;
  /** After this there is nothing left to be done about it. */
  useless_at: number;
  clock: ClockRow;
  recipients: string[];
  seen: boolean;
}

export interface StepRow {
  step: ItemRow;
  state: StepState;
  job: ItemRow | undefined;
  zone: ItemRow | undefined;
  product: ItemRow | undefined;
  assignees: string[];
  mine: boolean;
  clocks: ClockRow[];
  /** The steps that this one still waits for. */
  waits_for: string[];
}

export interface Question {
  first: RecordRow;
  second: RecordRow;
}

export const clocks: ReadonlySignal<ClockRow[]> = signal<ClockRow[]>([]);
export const stepStates: ReadonlySignal<Map<string, StepState>> = signal(new Map());
export const warnings: ReadonlySignal<WarningRow[]> = signal<WarningRow[]>([]);
export const ringing: ReadonlySignal<WarningRow[]> = signal<WarningRow[]>([]);
export const myDay: ReadonlySignal<StepRow[]> = signal<StepRow[]>([]);
export const questions: ReadonlySignal<Question[]> = signal<Question[]>([]);
export const latestReading: ReadonlySignal<RecordRow | null> = signal(null);
