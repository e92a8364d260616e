/**
 * Plain JSON read by the schema of what a sum takes: the twin of the server's `trade.sums.reading`.
 *
 * Rules
 * - Unknown fields are refused first, then each field is read in the schema's order: the first that
 *   is missing, of another type or out of its range is named, with its path (`girths_m[2]`).
 * - A field with a default may be left out; null is for fields that may be null.
 * - What comes back has every field of the schema.
 */

import { OutOfRangeError, TradeError } from "./errors.ts";
import { readInstant } from "./instants.ts";

/** The part of JSON Schema in which sums describe what they take. */
export interface FieldSchema {
  readonly type?: string | readonly string[];
  readonly properties?: Readonly<Record<string, FieldSchema>>;
  readonly required?: readonly string[];
  readonly items?: FieldSchema;
  readonly default?: unknown;
  readonly enum?: readonly unknown[];
  readonly format?: string;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly exclusiveMaximum?: number;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly maxLength?: number;
}

/** Read an object by its schema; throws TradeError naming the first field that cannot be used. */
export function readBySchema(
  schema: FieldSchema,
  data: unknown,
  path = "",
): Record<string, unknown> {
  if (!isRecord(data)) throw new TradeError(path || "input", "must be an object");
  const properties = schema.properties ?? {};
  for (const name of Object.keys(data)) {
    if (!Object.hasOwn(properties, name)) {
      throw new TradeError(joined(path, name), "is not known here");
    }
  }
  const read = Object.entries(properties).map(([name, field]) => [
    name,
    fieldOf(field, data, name, path),
  ]);
  return Object.fromEntries(read);
}

function fieldOf(
  schema: FieldSchema,
  data: Readonly<Record<string, unknown>>,
  name: string,
  path: string,
): unknown {
  const where = joined(path, name);
  const given = Object.hasOwn(data, name) ? data[name] : undefined;
  if (given === undefined) {
    if (!("default" in schema)) throw new TradeError(where, "is missing");
    return schema.default;
  }
  if (given === null && typesOf(schema).includes("null")) return null;
  return readValue(schema, given, where);
}

function readValue(schema: FieldSchema, given: unknown, where: string): unknown {
  const type = typesOf(schema).find((one) => one !== "null");
  if (type === "array") return itemsOf(schema, given, where);
  if (type === "object" && schema.properties) return readBySchema(schema, given, where);
  if (type === "number" || type === "integer") return numberOf(schema, given, where, type);
  if (type === "boolean") {
    if (typeof given !== "boolean") throw new TradeError(where, "must be true or false");
    return given;
  }
  return type === "string" ? textOf(schema, given, where) : given;
}

function itemsOf(schema: FieldSchema, given: unknown, where: string): unknown[] {
  if (!Array.isArray(given)) throw new TradeError(where, "must be a list");
  const { minItems = 0, maxItems = Number.POSITIVE_INFINITY, items = {} } = schema;
  if (given.length < minItems || given.length > maxItems) {
    throw new OutOfRangeError(where, `must have ${minItems} to ${maxItems} items`);
  }
  return given.map((one, i) => readValue(items, one, `${where}[${i}]`));
}

function numberOf(schema: FieldSchema, given: unknown, where: string, type: string): number {
  if (typeof given !== "number") throw new TradeError(where, "must be a number");
  if (!Number.isFinite(given)) throw new OutOfRangeError(where, "must be a finite number");
  const { minimum, maximum, exclusiveMinimum, exclusiveMaximum } = schema;
  if (minimum !== undefined && given < minimum) refuse(where, `at least ${minimum}`);
  if (exclusiveMinimum !== undefined && given <= exclusiveMinimum) {
    refuse(where, `above ${exclusiveMinimum}`);
  }
  if (maximum !== undefined && given > maximum) refuse(where, `at most ${maximum}`);
  if (exclusiveMaximum !== undefined && given >= exclusiveMaximum) {
    refuse(where, `below ${exclusiveMaximum}`);
  }
  if (type === "integer" && !Number.isInteger(given)) {
    throw new TradeError(where, "must be a whole number");
  }
  return given;
}

function textOf(schema: FieldSchema, given: unknown, where: string): unknown {
  if (schema.enum && !schema.enum.includes(given)) {
    throw new TradeError(where, `must be one of ${schema.enum.filter(Boolean).join(", ")}`);
  }
  if (typeof given !== "string") throw new TradeError(where, "must be text");
  if (schema.format === "date-time") return readInstant(given, where);
  if ([...given].length > (schema.maxLength ?? Number.POSITIVE_INFINITY)) {
    throw new OutOfRangeError(where, `must have at most ${schema.maxLength} characters`);
  }
  return given;
}

function refuse(where: string, limit: string): never {
  throw new OutOfRangeError(where, `must be ${limit}`);
}

function typesOf(schema: FieldSchema): readonly string[] {
  return [schema.type ?? "object"].flat();
}

function isRecord(data: unknown): data is Readonly<Record<string, unknown>> {
  return typeof data === "object" && data !== null && !Array.isArray(data);
}

function joined(path: string, name: string): string {
  return path ? `${path}.${name}` : name;
}
