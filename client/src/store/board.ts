/**
 * The rows in memory: what the server knows below, what the waiting operations make of it above.
 *
 * Only rows that change are worked on again: the lists of each kind are kept until a row of that kind changes.
 */
import { apply } from "../merge/apply.ts";
import { ITEM_KINDS } from "../merge/catalogue.ts";
import { deviceOf } from "../merge/hlc.ts";
import { checkShape } from "../merge/operation.ts";
import { RefusedError } from "../merge/refused.ts";
import {
  type Action,
  type Difference,
  type Item,
  isGone,
  type Json,
  type Outcome,
  type Rec,
  type Rows,
} from "../merge/state.ts";
import type { OperationRow, Row } from "./db.ts";
import { type Trees, treesOf } from "./standing.ts";
import type { ItemRow, RecordRow, Refused, View } from "./types.ts";

/** One layer of rows, by id. */
export class Layer {
  readonly items = new Map<string, Item>();
  readonly records = new Map<string, Rec>();
  readonly differences = new Map<string, Difference>();

  put(row: Row): void {
    if ("fields" in row) this.items.set(row.id, row);
    else this.records.set(row.id, row);
  }

  take(outcome: Pick<Outcome, "items" | "records" | "differences">): void {
    for (const row of outcome.items.values()) this.items.set(row.id, row);
    for (const row of outcome.records.values()) this.records.set(row.id, row);
    for (const row of outcome.differences.values()) this.differences.set(row.id, row);
  }

  kinds(): Set<string> {
    const kinds = new Set<string>();
    for (const row of this.items.values()) kinds.add(row.kind);
    for (const row of this.records.values()) kinds.add(row.kind);
    return kinds;
  }
}

/** A layer on top of another, read as one. */
export class Layered implements Rows {
  constructor(
    readonly over: Layer,
    readonly below: Layer,
  ) {}

  item(id: string): Item | undefined {
    return this.over.items.get(id) ?? this.below.items.get(id);
  }

  record(id: string): Rec | undefined {
    return this.over.records.get(id) ?? this.below.records.get(id);
  }

  difference(id: string): Difference | undefined {
    return this.over.differences.get(id) ?? this.below.differences.get(id);
  }
}

/** The ids of items and records that an operation touches. */
export function touched(actions: Action[]): string[] {
  return actions.flatMap((action) => (typeof action.id === "string" ? [action.id] : []));
}

type Chains = Trees & { records: RecordRow[] };

const byStamp = (a: { at: string }, b: { at: string }): number =>
  a.at < b.at ? -1 : a.at > b.at ? 1 : 0;

export class Board {
  private base = new Layer();
  private rows = new Layered(new Layer(), this.base);
  private waiting = new Map<number, OperationRow>();
  private refused = new Map<number, OperationRow>();
  private waits = new Map<string, number>();
  private lists = new Map<string, ItemRow[]>();
  private chains = new Map<string, Chains>();
  private byId = new Map<string, RecordRow>();

  constructor(readonly device: string) {}

  /** Put the whole copy in the place of what is in memory. */
  load(rows: Row[], differences: Difference[], operations: OperationRow[]): void {
    this.base = new Layer();
    for (const row of rows) this.base.put(row);
    for (const row of differences) this.base.differences.set(row.id, row);
    this.waiting.clear();
    this.refused.clear();
    this.lists.clear();
    this.chains.clear();
    this.setOperations(operations);
  }

  /** Take rows that the server knows. */
  takeBase(rows: Row[], differences: Difference[]): void {
    for (const row of rows) {
      this.base.put(row);
      this.forget(row.kind);
    }
    for (const row of differences) this.base.differences.set(row.id, row);
  }

  /** Say how operations stand now; the rows above are made anew from those that wait. */
  setOperations(operations: OperationRow[]): void {
    for (const row of operations) {
      this.waiting.delete(row.n);
      this.refused.delete(row.n);
      if (row.status === "waiting") this.waiting.set(row.n, row);
      if (row.status === "refused" && !row.dealt_with) this.refused.set(row.n, row);
    }
    this.applyWaiting();
  }

  /** Add one operation that was just written down; only what it touches is worked on. */
  addOperation(row: OperationRow): void {
    this.waiting.set(row.n, row);
    this.applyOne(row);
  }

  /** Try an operation without keeping it; throws RefusedError where it cannot take effect. */
  rehearse(at: string, actions: Action[]): void {
    checkShape(actions);
    apply(this.rows, { at, actions }, { device: this.device });
  }

  waitingCount(): number {
    return this.waiting.size;
  }

  /** The operations that wait, and those that were refused and not dealt with. */
  unsettled(): OperationRow[] {
    return [...this.waiting.values(), ...this.refused.values()];
  }

  waitingRow(n: number): OperationRow | undefined {
    return this.waiting.get(n);
  }

  waitingNumbers(): number[] {
    return [...this.waiting.keys()];
  }

  /** How many items and records the server gave. */
  baseCount(): number {
    return this.base.items.size + this.base.records.size;
  }

  baseLayer(): Layer {
    return this.base;
  }

  private applyWaiting(): void {
    for (const kind of this.rows.over.kinds()) this.forget(kind);
    this.rows = new Layered(new Layer(), this.base);
    this.waits.clear();
    this.waiting = new Map([...this.waiting].sort(([a], [b]) => a - b));
    for (const row of this.waiting.values()) this.applyOne(row);
  }

  private applyOne(row: OperationRow): void {
    for (const id of touched(row.actions)) this.waits.set(id, (this.waits.get(id) ?? 0) + 1);
    try {
      checkShape(row.actions);
      const outcome = apply(this.rows, row, { device: this.device });
      this.rows.over.take(outcome);
      for (const item of outcome.items.values()) this.forget(item.kind);
      for (const record of outcome.records.values()) this.forget(record.kind);
    } catch (error) {
      // The server will say so too, and its verdict is the one that counts.
      if (!(error instanceof RefusedError)) throw error;
    }
  }

  private forget(kind: string): void {
    this.lists.delete(kind);
    this.chains.delete(kind);
  }

  private list(kind: string): ItemRow[] {
    const kept = this.lists.get(kind);
    if (kept) return kept;
    const rows = this.both(this.rows.over.items, this.base.items, kind).filter(
      (row) => !isGone(row),
    );
    const rank = (row: ItemRow): number => (row.fields.rank as number | undefined) ?? 0;
    rows.sort((a, b) => rank(a) - rank(b) || byStamp(a, b));
    this.lists.set(kind, rows);
    return rows;
  }

  private both<T extends { kind: string; id: string }>(
    over: Map<string, T>,
    below: Map<string, T>,
    kind: string,
  ): T[] {
    const rows: T[] = [];
    for (const row of over.values()) if (row.kind === kind) rows.push(row);
    for (const row of below.values()) if (row.kind === kind && !over.has(row.id)) rows.push(row);
    return rows;
  }

  private chainsOf(kind: string): Chains {
    const kept = this.chains.get(kind);
    if (kept) return kept;
    const trees = treesOf(this.both(this.rows.over.records, this.base.records, kind));
    const standing = trees.standing.map(({ record }) => record).sort(byStamp);
    const made = { ...trees, records: standing };
    for (const row of made.all) this.byId.set(row.id, row);
    this.chains.set(kind, made);
    return made;
  }

  private author(stamp: string): ItemRow | undefined {
    const device = this.rows.item(deviceOf(stamp));
    return device && this.rows.item((device.fields.member_id as string | undefined) ?? "");
  }

  /** A view of what is here now. */
  view(): View {
    const { over, below } = this.rows;
    const settledAbove = (row: Difference): Difference => over.differences.get(row.id) ?? row;
    const differences = [
      ...[...below.differences.values()].map(settledAbove),
      ...[...over.differences.values()].filter((row) => !below.differences.has(row.id)),
    ].filter((row) => row.settled === null);
    return {
      item: (kind, id) => {
        const row = this.rows.item(id);
        return row?.kind === kind ? row : undefined;
      },
      items: (kind) => this.list(kind),
      gone: (kind) => this.both(this.rows.over.items, this.base.items, kind).filter(isGone),
      field: <T extends Json>(row: ItemRow, name: string): T => fieldOf(row, name) as T,
      members: (row, set) => Object.keys(row.sets[set] ?? {}),
      records: (kind) => this.chainsOf(kind).records,
      trees: (kind) => this.chainsOf(kind).standing,
      allRecords: (kind) => this.chainsOf(kind).all,
      record: (kind, id) => {
        this.chainsOf(kind);
        const row = this.rows.record(id);
        return row?.kind === kind ? this.byId.get(id) : undefined;
      },
      author: (stamp) => this.author(stamp),
      differences,
      refused: [...this.refused.values()].map(asRefused),
      waitingFor: (id) => this.waits.has(id),
    };
  }
}

/** A field's value, or what the catalogue says that an absent one means. */
export function fieldOf(row: ItemRow, name: string): Json {
  if (Object.hasOwn(row.fields, name)) return row.fields[name] as Json;
  return ITEM_KINDS.get(row.kind)?.fields[name]?.default ?? null;
}

function asRefused({ n, act, at, actions, problem, dealt_with }: OperationRow): Refused {
  const said = problem ?? { type: "about:blank", title: act, detail: "" };
  return { n, act, at, actions, problem: said, dealt_with };
}
