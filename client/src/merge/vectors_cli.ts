/**
 * Lets another program try this merge: one JSON object a line in, one a line out.
 *
 * In: `{state: {items, records, differences}, operation: {n, at, act, actions}, device}`, rows as lists or by id.
 * Out: `{changed: {items, records, differences}, altered, refused}`, rows by id; `refused` is null or the problem.
 */
import { createInterface } from "node:readline";
import { apply } from "./apply.ts";
import { checkShape } from "./operation.ts";
import { RefusedError } from "./refused.ts";
import type { Difference, Item, Operation, Rec, Rows } from "./state.ts";

type Listed<T> = T[] | Record<string, T>;

interface Line {
  state: { items?: Listed<Item>; records?: Listed<Rec>; differences?: Listed<Difference> };
  operation: Operation;
  device: string;
}

function byId<T extends { id: string }>(rows: Listed<T> = []): Map<string, T> {
  return new Map(Object.values(rows).map((row) => [row.id, row]));
}

function rowsOf(state: Line["state"]): Rows {
  const items = byId(state.items);
  const records = byId(state.records);
  const differences = byId(state.differences);
  return {
    item: (id) => items.get(id),
    record: (id) => records.get(id),
    difference: (id) => differences.get(id),
  };
}

function answer({ state, operation, device }: Line): object {
  try {
    checkShape(operation.actions);
    const outcome = apply(rowsOf(state), operation, { device });
    const changed = {
      items: Object.fromEntries(outcome.items),
      records: Object.fromEntries(outcome.records),
      differences: Object.fromEntries(outcome.differences),
    };
    return { changed, altered: [...outcome.altered].sort(), refused: null };
  } catch (error) {
    if (!(error instanceof RefusedError)) throw error;
    const changed = { items: {}, records: {}, differences: {} };
    return { changed, altered: [], refused: error.asProblem() };
  }
}

createInterface({ input: process.stdin }).on("line", (line) => {
  if (line.trim()) process.stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
});
