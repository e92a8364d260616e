/**
 * The check of one value against the type of its field.
 *
 * - A value is plain JSON; null is allowed unless the field is required.
 * - Instants are RFC 3339 text in UTC with a `Z`; local times of day are `HH:MM`; days of the week are a text of their
 *   ISO 8601 numbers, rising: `12345` is Monday to Friday, and the empty text no day.
 * - Numbers are finite and lie within the field's limits; text has a greatest length in characters (code points).
 */
import type { Field } from "./catalogue.ts";
import { isObject, RefusedError } from "./refused.ts";
import type { Json } from "./state.ts";

const ID = /^[0-9A-Za-z_-]{1,40}$/;
const INSTANT = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.\d{1,6})?Z$/;
const DATE = /^(\d{4})-(\d\d)-(\d\d)$/;
const TIME_OF_DAY = /^(?:[01]\d|2[0-3]):[0-5]\d$/;
const WEEKDAYS = /^1?2?3?4?5?6?7?$/;
const SHA256 = /^[0-9a-f]{64}$/;
/** What counts as blank on the server: control signs that part lines or records, and all kinds of spaces. */
const BLANK = new Set([
  ...[9, 10, 11, 12, 13, 28, 29, 30, 31, 32, 0x85, 0xa0, 0x1680, 0x2000, 0x2001, 0x2002, 0x2003],
  ...[
    0x2004, 0x2005, 0x2006, 0x2007, 0x2008, 0x2009, 0x200a, 0x2028, 0x2029, 0x202f, 0x205f, 0x3000,
  ],
]);
const OBJECT_CHARACTERS = 20_000;
const OBJECT_DEPTH = 12;
const TEXT_MOST = 200;

/** Say whether a value can be the id of an item or record. */
export function isId(value: unknown): value is string {
  return typeof value === "string" && ID.test(value) && !value.endsWith("\n");
}

/** Check one value; throws RefusedError naming `path` when it does not fit. */
export function check(field: Field, value: Json, path: string): void {
  if (value === null || value === undefined) {
    if (field.required) throw new RefusedError("value-missing", "A value is needed here.", path);
    return;
  }
  const why = CHECKS[field.type]?.(field, value) ?? "";
  if (why) throw new RefusedError("value-not-valid", why, path);
}

/** The number of characters as a person counts them: code points, not UTF-16 units. */
function lengthOf(text: string): number {
  let count = 0;
  for (const _ of text) count++;
  return count;
}

const isBlank = (text: string): boolean =>
  [...text].every((sign) => BLANK.has(sign.codePointAt(0) as number));

function text(field: Field, value: Json): string {
  if (typeof value !== "string") return "Text is needed here.";
  if (field.required && isBlank(value)) return "This may not be empty.";
  const most = field.most || TEXT_MOST;
  if (lengthOf(value) > most) return `At most ${Math.trunc(most)} characters.`;
  const broken = value.includes("\0") || /\p{Surrogate}/u.test(value);
  return broken ? "The text holds a character that cannot be stored." : "";
}

function number(field: Field, value: Json): string {
  if (typeof value !== "number") return "A number is needed here.";
  if (!Number.isFinite(value)) return "The number must be finite.";
  if (field.least !== undefined && value < field.least) return `At least ${short(field.least)}.`;
  if (field.most !== undefined && value > field.most) return `At most ${short(field.most)}.`;
  return "";
}

/** A number with six digits that count, written as short as it goes (C's %g). */
export function short(value: number): string {
  if (value === 0) return "0";
  const [digits = "", power = "0"] = value.toExponential(5).split("e");
  const exponent = Number(power);
  if (exponent < -4 || exponent >= 6) {
    const sign = exponent < 0 ? "-" : "+";
    const size = Math.abs(exponent).toString().padStart(2, "0");
    return `${digits.replace(/\.?0+$/, "")}e${sign}${size}`;
  }
  const fixed = value.toFixed(5 - exponent);
  return fixed.includes(".") ? fixed.replace(/\.?0+$/, "") : fixed;
}

function whole(field: Field, value: Json): string {
  if (typeof value === "boolean") return "A number is needed here.";
  return Number.isInteger(value) ? number(field, value) : "A whole number is needed here.";
}

function yesNo(_: Field, value: Json): string {
  return typeof value === "boolean" ? "" : "True or false is needed here.";
}

const LONG_MONTHS = new Set([1, 3, 5, 7, 8, 10, 12]);

function daysIn(year: number, month: number): number {
  if (month !== 2) return LONG_MONTHS.has(month) ? 31 : 30;
  return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
}

function isDay(year: number, month: number, day: number): boolean {
  return year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(year, month);
}

function isInstant(value: Json): boolean {
  const match = typeof value === "string" ? INSTANT.exec(value) : null;
  if (match === null) return false;
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0] = match
    .slice(1, 7)
    .map(Number);
  const fits = isDay(year, month, day) && hour < 24 && minute < 60 && second < 60;
  return fits && year >= 1970 && year <= 2200;
}

function instant(_: Field, value: Json): string {
  return isInstant(value) ? "" : "An instant in UTC is needed here, such as 2026-03-02T08:30:00Z.";
}

function date(_: Field, value: Json): string {
  const match = typeof value === "string" ? DATE.exec(value) : null;
  const [year = 0, month = 0, day = 0] = match?.slice(1, 4).map(Number) ?? [];
  return isDay(year, month, day) ? "" : "A date is needed here, such as 2026-03-02.";
}

function timeOfDay(_: Field, value: Json): string {
  const fits = typeof value === "string" && TIME_OF_DAY.test(value);
  return fits ? "" : "A time of day is needed here, such as 07:30.";
}

function weekdays(_: Field, value: Json): string {
  const fits = typeof value === "string" && WEEKDAYS.test(value);
  return fits ? "" : "Days of the week are needed here, 1 to 7 and rising, such as 12345.";
}

function ref(_: Field, value: Json): string {
  return isId(value) ? "" : "The id of an existing row is needed here.";
}

function choice(field: Field, value: Json): string {
  const of = field.of ?? [];
  return of.includes(value as string) ? "" : `One of: ${of.join(", ")}.`;
}

function object(_: Field, value: Json): string {
  if (!isObject(value)) return "An object is needed here.";
  const fits = fitsIn(value, OBJECT_DEPTH, { left: OBJECT_CHARACTERS });
  return fits ? "" : "The object is too large.";
}

/** Say whether a nested value stays within a depth and a number of characters. */
function fitsIn(value: Json, depth: number, room: { left: number }): boolean {
  if (depth === 0 || room.left < 0) return false;
  if (isObject(value)) {
    return Object.entries(value).every(
      ([key, part]) => fitsIn(key, depth - 1, room) && fitsIn(part, depth - 1, room),
    );
  }
  if (Array.isArray(value)) return value.every((part) => fitsIn(part, depth - 1, room));
  if (typeof value === "number" && !Number.isFinite(value)) return false;
  room.left -= typeof value === "string" ? lengthOf(value) : 8;
  if (room.left < 0) return false;
  return typeof value !== "string" || text({ type: "text", most: 20_000 }, value) === "";
}

function hash(_: Field, value: Json): string {
  const fits = typeof value === "string" && SHA256.test(value);
  return fits ? "" : "A SHA-256 in hex is needed here.";
}

const CHECKS: Record<string, (field: Field, value: Json) => string> = {
  text,
  number,
  whole,
  yes_no: yesNo,
  instant,
  date,
  time_of_day: timeOfDay,
  weekdays,
  ref,
  choice,
  object,
  hash,
};
