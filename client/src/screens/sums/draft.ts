/** What is typed into a form that a sum describes: from values to texts, and back with what is wrong at which field. */
import { tell } from "../../handbook/index.ts";
import { yardZone } from "../../parts/know.ts";
import type { Json } from "../../store/view.ts";
import { dayOf, instantOf, readNumber, timeOf, typed } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { kindOf, mayBeNull, type Schema } from "./registry.ts";
import { shownUnit } from "./units.ts";

export type Draft = string | boolean | Draft[] | { [name: string]: Draft };
export type Drafts = { [name: string]: Draft };
export type Wrong = Record<string, string>;

const DIGITS = 6;

/** A value as it stands in the form; what is not given is empty. */
export function draftOf(schema: Schema, value: Json | undefined): Draft {
  const kind = kindOf(schema);
  if (kind === "object") return objectOf(schema, value);
  if (kind === "array") return rowsOf(schema, value);
  if (kind === "boolean") return value === true;
  if (schema.format === "date-time") return momentOf(text(value));
  if (typeof value !== "number") return text(value);
  return typed(value * shownUnit(schema.unit).times, DIGITS);
}

/** A record that may be left out stands empty until somebody adds it. */
function objectOf(schema: Schema, value: Json | undefined): Draft {
  const absent = value === null || value === undefined;
  if (!schema.properties || (absent && mayBeNull(schema))) return text(value);
  return draftsOf(schema, value);
}

const text = (value: Json | undefined): string => (typeof value === "string" ? value : "");

function rowsOf(schema: Schema, value: Json | undefined): Draft[] {
  const items = schema.items ?? {};
  const given = Array.isArray(value) ? value : [];
  const least = Math.min(schema.minItems ?? 0, 12);
  const empty = Array.from({ length: Math.max(0, least - given.length) }, () => emptyRow(items));
  return [...given.map((one) => draftOf(items, one)), ...empty];
}

/** One more row of a list. */
export const emptyRow = (items: Schema): Draft => draftOf(items, items.default);

/** The drafts of all fields; what is not given stands at its default. */
export function draftsOf(schema: Schema, value: Json | undefined): Drafts {
  const given = typeof value === "object" && value !== null && !Array.isArray(value) ? value : {};
  const fields = Object.entries(schema.properties ?? {});
  return Object.fromEntries(
    fields.map(([name, field]) => [name, draftOf(field, given[name] ?? field.default)]),
  );
}

/** What turns the id of something on the board into what a sum takes: a product's numbers, for one. */
export type Look = (id: string) => Json | undefined;

/** Read a form: the whole of what the sum takes, and what is wrong by the path of its field. */
export function readDrafts(schema: Schema, drafts: Drafts, look: Look = () => undefined) {
  const wrong: Wrong = {};
  const takes = readObject(schema, drafts, "", wrong, look);
  return { takes, wrong, good: Object.keys(wrong).length === 0 };
}

function readObject(schema: Schema, drafts: Drafts, path: string, wrong: Wrong, look: Look) {
  const found: { [name: string]: Json } = {};
  for (const [name, field] of Object.entries(schema.properties ?? {})) {
    const where = path ? `${path}.${name}` : name;
    found[name] = readOne(field, drafts[name], where, wrong, look) ?? field.default ?? null;
  }
  return found;
}

/** Read one field; null is what was left empty. What may not be empty is wrong. */
function readOne(
  schema: Schema,
  draft: Draft | undefined,
  where: string,
  wrong: Wrong,
  look: Look,
): Json {
  const kind = kindOf(schema);
  if (kind === "boolean") return draft === true;
  if (kind === "array") return readRows(schema, draft, where, wrong, look);
  if (kind === "object" && schema.properties && draft !== "")
    return readObject(schema, (draft ?? {}) as Drafts, where, wrong, look);
  const typed_text = typeof draft === "string" ? draft.trim() : "";
  if (typed_text === "") {
    if (!mayBeNull(schema) && schema.default === undefined) wrong[where] = say("problem.missing");
    return null;
  }
  if (kind === "object") return look(typed_text) ?? null;
  if (schema.format === "date-time") return readMoment(typed_text, where, wrong);
  if (kind === "string") return typed_text;
  const { value, why } = readMeasured(schema, typed_text);
  if (why) wrong[where] = why;
  return value;
}

/** An instant as `2026-03-02T14:20` on the yard's clock, and back. */
function momentOf(iso: string): string {
  const ms = Date.parse(iso);
  return Number.isNaN(ms) ? "" : `${dayOf(ms, yardZone())}T${timeOf(ms, yardZone())}`;
}

function readMoment(wall: string, where: string, wrong: Wrong): Json {
  const [day = "", time = ""] = wall.split("T");
  const ms = day && time ? instantOf(day, time, yardZone()) : Number.NaN;
  if (!Number.isNaN(ms)) return new Date(ms).toISOString();
  wrong[where] = say("problem.missing");
  return null;
}

/** Rows that were left empty are none. */
function readRows(
  schema: Schema,
  draft: Draft | undefined,
  where: string,
  wrong: Wrong,
  look: Look,
): Json {
  const rows = (Array.isArray(draft) ? draft : []).filter((row) => row !== "");
  if (rows.length === 0 && mayBeNull(schema)) return null;
  if (rows.length < (schema.minItems ?? 0)) wrong[where] = say("problem.missing");
  return rows.map((row, n) => readOne(schema.items ?? {}, row, `${where}[${n}]`, wrong, look));
}

function readMeasured(schema: Schema, typed_text: string): { value: number; why: string } {
  const { times } = shownUnit(schema.unit);
  const value = readNumber(typed_text) / times;
  return { value, why: whyNot(schema, value, times) };
}

/** What is wrong with a number, said in the unit that is shown; empty when nothing is. */
function whyNot(schema: Schema, value: number, times: number): string {
  const { minimum, maximum, exclusiveMinimum, exclusiveMaximum } = schema;
  if (Number.isNaN(value)) return say("problem.number");
  if (kindOf(schema) === "integer" && !Number.isInteger(value)) return tell("problem.whole");
  if (minimum !== undefined && value < minimum) return say("problem.least", { n: minimum * times });
  if (exclusiveMinimum !== undefined && value <= exclusiveMinimum)
    return tell("problem.above", { n: exclusiveMinimum * times });
  if (maximum !== undefined && value > maximum) return say("problem.most", { n: maximum * times });
  if (exclusiveMaximum !== undefined && value >= exclusiveMaximum)
    return tell("problem.below", { n: exclusiveMaximum * times });
  return "";
}
