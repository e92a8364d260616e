/**
 * Instants at the door, seconds inside: the twin of the server's `trade.instants`.
 *
 * Rules
 * - At the door an instant is a number of milliseconds since the epoch, or ISO text with its zone.
 * - Inside, arithmetic runs on float seconds since the epoch.
 * - Answers go back rounded to the millisecond.
 */

import { TradeError } from "./errors.ts";

const ISO_WITH_ZONE = /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)$/;

/** Give milliseconds since the epoch as seconds. */
export function secondsOf(at: number): number {
  return at / 1000;
}

/** Give seconds since the epoch as milliseconds, rounded to one. */
export function instantOf(atS: number): number {
  return Math.round(atS * 1000);
}

/** Read ISO text with its zone into milliseconds since the epoch. */
export function readInstant(text: string, field = "at"): number {
  if (!ISO_WITH_ZONE.test(text)) throw new TradeError(field, "an instant needs its time zone");
  const at = Date.parse(text);
  if (Number.isNaN(at)) throw new TradeError(field, "no such instant");
  return at;
}

/** Write an instant as both twins write it: milliseconds and a Z. */
export function isoOf(at: number): string {
  return new Date(at).toISOString();
}
