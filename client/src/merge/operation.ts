/**
 * The check of an operation's shape, before anything is looked up.
 *
 * - An operation holds 1 to 500 actions; all take effect or none.
 * - Every fault names its field.
 */
import { isObject, RefusedError } from "./refused.ts";
import type { Json } from "./state.ts";
import { isId } from "./values.ts";

export const MAX_ACTIONS = 500;
const MAX_TEXTS = 200;

type Given = { [key: string]: Json };

const KEYS: ReadonlyMap<string, readonly string[]> = new Map([
  ["create", ["do", "kind", "id", "fields", "sets"]],
  ["set", ["do", "kind", "id", "fields", "seen"]],
  ["put_in", ["do", "kind", "id", "set", "member"]],
  ["take_out", ["do", "kind", "id", "set", "member", "tags"]],
  ["record", ["do", "kind", "id", "body", "replaces", "void"]],
  ["settle", ["do", "differences"]],
]);

/** Check that a list of actions has a shape that the merge can work on; throws RefusedError. */
export function checkShape(actions: unknown): void {
  if (!Array.isArray(actions) || actions.length < 1 || actions.length > MAX_ACTIONS) {
    const detail = `A list of 1 to ${MAX_ACTIONS} actions is needed.`;
    throw new RefusedError("not-an-operation", detail, "actions");
  }
  for (const [number, action] of actions.entries()) {
    within(`actions[${number}]`, () => checkAction(action));
  }
}

/** Do something, and let the field path of its refusal start with `prefix`. */
export function within(prefix: string, work: () => void): void {
  try {
    work();
  } catch (error) {
    if (error instanceof RefusedError) throw error.under(prefix);
    throw error;
  }
}

/** The first characters of a name, as counted in code points. */
export const first = (name: string, most: number): string => [...name].slice(0, most).join("");

function checkAction(action: unknown): void {
  if (!isObject(action)) throw new RefusedError("not-an-action", "An action is an object.");
  const does = action.do;
  const keys = typeof does === "string" ? KEYS.get(does) : undefined;
  if (keys === undefined) {
    throw new RefusedError("not-an-action", `One of: ${[...KEYS.keys()].join(", ")}.`, "do");
  }
  for (const key of Object.keys(action)) {
    if (keys.includes(key)) continue;
    throw new RefusedError("unknown-field", `The action ${does} has no such part.`, first(key, 40));
  }
  SHAPES[does as string]?.(action);
}

function named(action: Given): void {
  need(isId(action.id), "An id of letters, digits and hyphens is needed.", "id");
  need(typeof action.kind === "string", "The kind's name is needed.", "kind");
}

function need(fits: boolean, detail: string, field: string): void {
  if (!fits) throw new RefusedError("value-not-valid", detail, field);
}

function create(action: Given): void {
  named(action);
  object(action, "fields", true);
  object(action, "sets");
  for (const [name, members] of Object.entries(action.sets ?? {})) {
    const fits = Array.isArray(members) && members.every(isId);
    need(fits, "A list of ids is needed.", `sets.${name}`);
  }
}

function set(action: Given): void {
  named(action);
  object(action, "fields", true);
  object(action, "seen");
  if (Object.keys(action.fields as object).length === 0) {
    throw new RefusedError("value-missing", "At least one field is needed.", "fields");
  }
  for (const [name, stamp] of Object.entries(action.seen ?? {})) {
    if (typeof stamp === "string") continue;
    throw new RefusedError("not-a-stamp", "This is not a clock stamp.", `seen.${name}`);
  }
}

function member(action: Given): void {
  named(action);
  need(typeof action.set === "string", "The set's name is needed.", "set");
  need(isId(action.member), "An id is needed.", "member");
  if (action.do === "take_out") texts(action, "tags");
}

function record(action: Given): void {
  named(action);
  object(action, "body", true);
  const taken_back = "void" in action ? action.void : false;
  need(typeof taken_back === "boolean", "True or false is needed here.", "void");
  const replaces = action.replaces ?? null;
  need(replaces === null || isId(replaces), "The id of a record is needed.", "replaces");
  if (taken_back && replaces === null) {
    throw new RefusedError("value-missing", "What is taken back must be named.", "replaces");
  }
}

function object(action: Given, name: string, needed = false): void {
  const value = action[name] ?? null;
  const fits = value === null ? !needed : isObject(value);
  need(fits, "An object is needed here.", name);
}

function texts(action: Given, name: string): void {
  const value = action[name];
  const fits =
    Array.isArray(value) &&
    value.length <= MAX_TEXTS &&
    value.every((part) => typeof part === "string");
  need(fits, `A list of at most ${MAX_TEXTS} texts is needed.`, name);
}

const SHAPES: Record<string, (action: Given) => void> = {
  create,
  set,
  put_in: member,
  take_out: member,
  record,
  settle: (action) => texts(action, "differences"),
};
