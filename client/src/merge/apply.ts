/**
 * Applying one operation: all of its actions take effect, or none and an error says why.
 *
 * - Pure: the rows handed in stay as they are; the outcome lists the rows that are new or changed.
 * - Deletion is the field `gone`. It meets an unseen touch of the same item, in either order, by keeping the item and
 *   asking a person (a difference on `gone`).
 * - Who may do what is not asked here: the server does, and refuses.
 */
import { type Field, ITEM_KINDS, type ItemKind, RECORD_KINDS } from "./catalogue.ts";
import { decide } from "./conflict.ts";
import { deviceOf } from "./hlc.ts";
import { first, within } from "./operation.ts";
import { RefusedError } from "./refused.ts";
import {
  type Action,
  type Difference,
  type Item,
  isGone,
  type Json,
  type Operation,
  type Outcome,
  type Rec,
  type Rows,
  stampOf,
  type Valued,
} from "./state.ts";
import { check } from "./values.ts";

/** Where one operation is worked on: the rows below, the new ones above. */
class Bench implements Outcome {
  readonly items = new Map<string, Item>();
  readonly records = new Map<string, Rec>();
  readonly differences = new Map<string, Difference>();
  readonly altered = new Set<string>();

  constructor(
    readonly below: Rows,
    readonly at: string,
    readonly device: string,
  ) {}

  item(id: string): Item | undefined {
    return this.items.get(id) ?? this.below.item(id);
  }

  record(id: string): Rec | undefined {
    return this.records.get(id) ?? this.below.record(id);
  }

  difference(id: string): Difference | undefined {
    return this.differences.get(id) ?? this.below.difference(id);
  }
}

/** Apply an operation whose shape was checked; throws RefusedError, and then nothing took effect. */
export function apply(
  below: Rows,
  operation: Pick<Operation, "at" | "actions">,
  by: { device: string },
): Outcome {
  const bench = new Bench(below, operation.at, by.device);
  for (const [number, action] of operation.actions.entries()) {
    within(`actions[${number}]`, () => ACTIONS[action.do]?.(bench, action));
  }
  return bench;
}

function create(bench: Bench, action: Action): void {
  const kind = itemKind(action);
  const id = action.id as string;
  if (bench.item(id)) {
    throw new RefusedError("id-in-use", "Something with this id exists already.", "id");
  }
  const fields = { ...(action.fields as Record<string, Json>) };
  checkFields(bench, kind.fields, fields, "fields");
  checkRequired(kind.fields, fields, "fields");
  checkNotItself(action.kind as string, id, fields);
  checkDays(action.kind as string, fields);
  const sets: Item["sets"] = {};
  for (const [name, members] of Object.entries((action.sets ?? {}) as Record<string, string[]>)) {
    for (const member of members) checkMember(bench, kind, name, member, `sets.${name}`);
    if (members.length === 0) continue;
    sets[name] = Object.fromEntries(members.map((member) => [member, [bench.at]]));
  }
  bench.items.set(id, { kind: action.kind as string, id, at: bench.at, fields, stamps: {}, sets });
}

function set(bench: Bench, action: Action): void {
  const kind = itemKind(action);
  let item = existing(bench, action);
  const fields = action.fields as Record<string, Json>;
  const seen = (action.seen ?? {}) as Record<string, string>;
  const saw = (name: string): string | null =>
    Object.hasOwn(seen, name) ? (seen[name] as string) : null;
  checkFields(bench, kind.fields, fields, "fields");
  checkNotItself(item.kind, item.id, { ...item.fields, ...fields });
  checkDays(item.kind, fields);
  if (fields.gone === true) {
    if (Object.keys(fields).length > 1) {
      throw new RefusedError("value-not-valid", "Deletion stands alone.", "fields");
    }
    drop(bench, item, seen);
    return;
  }
  if (isGone(item) && fields.gone !== false) item = comeBack(bench, item);
  for (const [name, value] of Object.entries(fields)) {
    item = setField(bench, kind, item, { name, value, seen: saw(name) });
  }
  bench.items.set(item.id, item);
}

function setField(
  bench: Bench,
  kind: ItemKind,
  item: Item,
  change: { name: string; value: Json; seen: string | null },
): Item {
  const { name, value, seen } = change;
  const absent = kind.fields[name]?.default ?? null;
  const stored = Object.hasOwn(item.fields, name) ? (item.fields[name] as Json) : absent;
  const present: Valued = { value: stored, at: stampOf(item, name) };
  const verdict = decide(present, { value, at: bench.at }, seen);
  if (!verdict.as_sent) bench.altered.add(item.id);
  if (verdict.lost !== null) differ(bench, item, name, verdict.stays, verdict.lost);
  return withField(item, name, verdict.stays);
}

function withField(item: Item, name: string, version: Valued): Item {
  const stamps = { ...item.stamps, [name]: version.at };
  if (version.at === item.at) delete stamps[name];
  return { ...item, fields: { ...item.fields, [name]: version.value }, stamps };
}

/** Delete an item, unless somebody else touched it unseen: then keep it and ask. */
function drop(bench: Bench, item: Item, seen: Record<string, string>): void {
  if (isGone(item)) return;
  const unseen = unseenTouches(item, seen, bench.device).sort();
  const latest = unseen.at(-1);
  if (latest !== undefined) {
    differ(bench, item, "gone", { value: false, at: latest }, { value: true, at: bench.at });
    bench.altered.add(item.id);
    return;
  }
  const present = { value: false, at: stampOf(item, "gone") };
  const verdict = decide(present, { value: true, at: bench.at }, present.at);
  if (!verdict.as_sent) bench.altered.add(item.id);
  bench.items.set(item.id, withField(item, "gone", verdict.stays));
}

/** The stamps of other devices in an item that are not among those that the person saw. */
function unseenTouches(item: Item, seen: Record<string, string>, device: string): string[] {
  const saw = (name: string): string | undefined =>
    Object.hasOwn(seen, name) ? seen[name] : undefined;
  const fields = Object.entries(item.stamps).filter(([name, at]) => at !== saw(name));
  const tags = Object.entries(item.sets).flatMap(([name, members]) => {
    const known = new Set((saw(name) ?? "").split(" "));
    return Object.values(members)
      .flat()
      .filter((tag) => !known.has(tag));
  });
  const touches = [...fields.map(([, at]) => at), ...tags];
  return touches.filter((at) => at !== item.at && deviceOf(at) !== device);
}

/** Bring a deleted item back because somebody worked on it without having seen the deletion. */
function comeBack(bench: Bench, item: Item): Item {
  const deleted = { value: true, at: stampOf(item, "gone") };
  const verdict = decide(deleted, { value: false, at: bench.at }, deleted.at);
  bench.altered.add(item.id);
  differ(bench, item, "gone", verdict.stays, deleted);
  return withField(item, "gone", verdict.stays);
}

function putIn(bench: Bench, action: Action): void {
  const kind = itemKind(action);
  let item = existing(bench, action);
  const name = action.set as string;
  const member = action.member as string;
  checkMember(bench, kind, name, member, "member");
  if (isGone(item)) item = comeBack(bench, item);
  const members = item.sets[name] ?? {};
  const tags = [...new Set([...(members[member] ?? []), bench.at])].sort();
  const sets = { ...item.sets, [name]: { ...members, [member]: tags } };
  bench.items.set(item.id, { ...item, sets });
}

function takeOut(bench: Bench, action: Action): void {
  const kind = itemKind(action);
  const item = existing(bench, action);
  const name = action.set as string;
  if (!Object.hasOwn(kind.sets, name)) {
    throw new RefusedError("unknown-field", "There is no such set.", "set");
  }
  const { [action.member as string]: had = [], ...members } = item.sets[name] ?? {};
  // A device knows what it put in itself, also where the server has set the stamp back.
  const seen = action.tags as string[];
  const left = had.filter((tag) => !seen.includes(tag) && deviceOf(tag) !== bench.device);
  if (left.length > 0) members[action.member as string] = left;
  const sets = { ...item.sets, [name]: members };
  if (Object.keys(members).length === 0) delete sets[name];
  bench.items.set(item.id, { ...item, sets });
}

function record(bench: Bench, action: Action): void {
  const name = action.kind as string;
  const id = action.id as string;
  const kind = RECORD_KINDS.get(name);
  if (kind === undefined) {
    throw new RefusedError("unknown-kind", "There is no such kind of record.", "kind");
  }
  if (bench.record(id)) {
    throw new RefusedError("id-in-use", "A record with this id exists already.", "id");
  }
  const replaces = (action.replaces ?? null) as string | null;
  if (replaces !== null && bench.record(replaces)?.kind !== name) {
    const detail = "The record to be corrected is not here.";
    throw new RefusedError("unknown-id", detail, "replaces");
  }
  const body = { ...(action.body as Record<string, Json>) };
  const taken_back = action.void === true;
  checkFields(bench, kind.body, body, "body");
  if (!taken_back) {
    checkRequired(kind.body, body, "body");
    checkOrder(name, body);
  }
  bench.records.set(id, { kind: name, id, at: bench.at, body, replaces, void: taken_back });
}

function settle(bench: Bench, action: Action): void {
  for (const id of action.differences as string[]) {
    const difference = bench.difference(id);
    if (difference === undefined) {
      throw new RefusedError("unknown-id", "There is no such difference.", "differences");
    }
    if (difference.settled === null) {
      bench.differences.set(id, { ...difference, settled: bench.at });
    }
  }
}

function differ(bench: Bench, item: Item, name: string, kept: Valued, lost: Valued): void {
  const id = `${item.id}.${name}.${lost.at}`;
  if (bench.difference(id)) return;
  const { kind, id: item_id } = item;
  bench.differences.set(id, { id, kind, item_id, field: name, kept, lost, settled: null });
}

function itemKind(action: Action): ItemKind {
  const kind = ITEM_KINDS.get(action.kind as string);
  if (kind === undefined) {
    throw new RefusedError("unknown-kind", "There is no such kind of item.", "kind");
  }
  return kind;
}

function existing(bench: Bench, action: Action): Item {
  const item = bench.item(action.id as string);
  if (item === undefined || item.kind !== action.kind) {
    throw new RefusedError("unknown-id", `There is no such ${action.kind} in this refit.`, "id");
  }
  return item;
}

function checkFields(
  bench: Bench,
  known: Record<string, Field>,
  given: Record<string, Json>,
  path: string,
): void {
  for (const [name, value] of Object.entries(given)) {
    const where = `${path}.${first(name, 40)}`;
    const field = Object.hasOwn(known, name) ? known[name] : undefined;
    if (field === undefined) {
      throw new RefusedError("unknown-field", "There is no such field.", where);
    }
    check(field, value, where);
    if (field.type === "ref" && value !== null) checkRef(bench, field, value as string, where);
  }
}

function checkRef(bench: Bench, field: Field, value: string, where: string): void {
  const target = bench.item(value) ?? bench.record(value);
  const of = field.of ?? [];
  if (target !== undefined && of.includes(target.kind)) return;
  const detail = `There is no such ${of.join(" or ")} in this refit.`;
  throw new RefusedError("unknown-id", detail, where);
}

function checkRequired(
  known: Record<string, Field>,
  given: Record<string, Json>,
  path: string,
): void {
  for (const [name, part] of Object.entries(known)) {
    if (!part.required || Object.hasOwn(given, name)) continue;
    throw new RefusedError("value-missing", "A value is needed here.", `${path}.${name}`);
  }
}

function checkMember(
  bench: Bench,
  kind: ItemKind,
  name: string,
  member: string,
  where: string,
): void {
  const of = Object.hasOwn(kind.sets, name) ? kind.sets[name] : undefined;
  if (of === undefined) throw new RefusedError("unknown-field", "There is no such set.", where);
  if (bench.item(member)?.kind === of) return;
  throw new RefusedError("unknown-id", `There is no such ${of} in this refit.`, where);
}

function checkOrder(kind: string, body: Record<string, Json>): void {
  if (kind !== "application" || !body.end_at) return;
  if ((body.end_at as string) >= (body.start_at as string)) return;
  throw new RefusedError("value-not-valid", "The end is before the start.", "body.end_at");
}

/** Refuse days that one person gave the wrong way round; those that two people gave make no absence. */
function checkDays(kind: string, { from_on, to_on }: Record<string, Json>): void {
  if (kind !== "away" || from_on === undefined || to_on === undefined) return;
  if ((to_on as string) >= (from_on as string)) return;
  throw new RefusedError("value-not-valid", "The last day is before the first.", "fields.to_on");
}

/** Refuse what stands in itself: a step after itself, a zone in itself. */
function checkNotItself(kind: string, id: string, fields: Record<string, Json>): void {
  if (kind === "link" && (fields.step_id ?? null) === (fields.after_id ?? null)) {
    throw new RefusedError(
      "value-not-valid",
      "A step cannot come after itself.",
      "fields.after_id",
    );
  }
  for (const name of ["parent_id", "twin_id", "found_while", "mirror_of"]) {
    if (fields[name] === id) {
      throw new RefusedError("value-not-valid", "This cannot point to itself.", `fields.${name}`);
    }
  }
}

const ACTIONS: Record<string, (bench: Bench, action: Action) => void> = {
  create,
  set,
  put_in: putIn,
  take_out: takeOut,
  record,
  settle,
};
