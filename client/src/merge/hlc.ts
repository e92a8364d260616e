/**
 * The hybrid logical clock: stamps that order what several devices did.
 *
 * A stamp joins a wall time in milliseconds, a counter and the device's id. A clock never goes back: each new stamp
 * is later than every stamp that the clock has made or seen, whatever the wall clock says, and stays as near to the
 * wall time as it can. Two stamps are never equal because the device's id is part of them.
 *
 * Text form `MMMMMMMMMMMMCCCC-device`; text order is stamp order.
 *
 * Source: Kulkarni, Demirbas, Madappa, Avva, Leone: Logical Physical Clocks (2014), there named HLC.
 */
import { RefusedError } from "./refused.ts";

export const MAX_COUNTER = 0xffff;
export const ALLOWANCE_MS = 5 * 60 * 1000;
export const SERVER_DEVICE = "server000000";

const TEXT = /^([0-9a-f]{12})([0-9a-f]{4})-([0-9a-z]{12})$/;

export interface Stamp {
  ms: number;
  counter: number;
  device: string;
}

export function write(stamp: Stamp): string {
  const ms = stamp.ms.toString(16).padStart(12, "0");
  return `${ms}${stamp.counter.toString(16).padStart(4, "0")}-${stamp.device}`;
}

/** Read a stamp; throws RefusedError naming `field` when the text is none. */
export function parse(text: unknown, field = "at"): Stamp {
  const match = typeof text === "string" && !text.endsWith("\n") ? TEXT.exec(text) : null;
  if (match === null) {
    throw new RefusedError("not-a-stamp", "This is not a clock stamp.", field);
  }
  const [, ms = "", counter = "", device = ""] = match;
  return { ms: Number.parseInt(ms, 16), counter: Number.parseInt(counter, 16), device };
}

/** The device's id in a stamp's text. */
export const deviceOf = (stamp: string): string => stamp.slice(17);

/** The least stamp of `device` that is later than `stamp` by time or counter. */
export function after(stamp: Stamp, device: string): Stamp {
  if (stamp.counter < MAX_COUNTER) return { ms: stamp.ms, counter: stamp.counter + 1, device };
  return { ms: stamp.ms + 1, counter: 0, device };
}

/** The next stamp of a device: later than `last`, at `now_ms` if that is later still. */
export function tick(last: Stamp | null, now_ms: number, device: string): Stamp {
  if (last === null || now_ms > last.ms) return { ms: now_ms, counter: 0, device };
  return after(last, device);
}

/** The stamp under which the server files an operation: set back where it lies too far ahead. */
export function clamped(sent: Stamp, last: Stamp | null, now_ms: number): Stamp {
  const ahead = sent.ms > now_ms + ALLOWANCE_MS;
  const stamp = ahead ? { ms: now_ms, counter: 0, device: sent.device } : sent;
  if (last === null || stamp.ms > last.ms) return stamp;
  if (stamp.ms === last.ms && stamp.counter > last.counter) return stamp;
  return after(last, sent.device);
}
