/**
 * A line of time on which the working hours are wide and the nights and free days narrow: whoever looks at a phone looks
 * at work, and still sees that a window closes at two in the night.
 *
 * Within each stretch of the line the time runs evenly. Days and hours are the yard's, so that a day on which the clocks
 * change is as long as it is.
 */
import { dayOf, instantOf } from "../words/dates.ts";

/** From when to when the yard works, as wall times, and on which days of the week (ISO 8601 numbers in a text). */
export interface Hours {
  zone: string;
  day_starts: string;
  day_ends: string;
  work_days: string;
}

/** Widths in px: of a working hour, of the closed hours on either side of it, and of a day that is closed. */
export interface Scale {
  hour: number;
  night: number;
  free: number;
}

export interface Stretch {
  from: number;
  to: number;
  x: number;
  width: number;
  open: boolean;
}

export interface Day {
  on: string;
  from: number;
  to: number;
  x: number;
  width: number;
  free: boolean;
}

export interface Axis {
  stretches: Stretch[];
  days: Day[];
  width: number;
}

const HOUR_MS = 3_600_000;

/** The day after a written one. */
export const dayAfter = (day: string, days = 1): string =>
  new Date(Date.parse(`${day}T12:00:00Z`) + days * 24 * HOUR_MS).toISOString().slice(0, 10);

/** Monday 1 to Sunday 7. */
export const weekdayOf = (day: string): number => new Date(`${day}T12:00:00Z`).getUTCDay() || 7;

/** All days from the one of `first` to the one of `last`, in the yard. */
export function daysBetween(first: number, last: number, zone: string): string[] {
  const days = [dayOf(first, zone)];
  const end = dayOf(last, zone);
  for (let day = days[0] as string; day < end; ) {
    day = dayAfter(day);
    days.push(day);
  }
  return days;
}

/** Make a line for these days; on `worked` days there is work though the yard is closed. */
export function makeAxis(
  days: readonly string[],
  hours: Hours,
  scale: Scale,
  worked: ReadonlySet<string> = new Set(),
): Axis {
  const axis: Axis = { stretches: [], days: [], width: 0 };
  for (const on of days) addDay(axis, on, hours, scale, worked.has(on));
  return axis;
}

function addDay(axis: Axis, on: string, hours: Hours, scale: Scale, worked: boolean): void {
  const { zone, day_starts, day_ends, work_days } = hours;
  const from = instantOf(on, "00:00", zone);
  const to = instantOf(dayAfter(on), "00:00", zone);
  const free = !worked && !work_days.includes(String(weekdayOf(on)));
  const x = axis.width;
  const add = (start: number, end: number, width: number, open: boolean): void => {
    if (end <= start) return;
    axis.stretches.push({ from: start, to: end, x: axis.width, width, open });
    axis.width += width;
  };
  if (free) add(from, to, scale.free, false);
  else {
    const opens = instantOf(on, day_starts, zone);
    // A yard that closes at midnight writes 00:00.
    const closes = day_ends > day_starts ? instantOf(on, day_ends, zone) : to;
    add(from, opens, scale.night, false);
    add(opens, closes, ((closes - opens) / HOUR_MS) * scale.hour, true);
    add(closes, to, scale.night, false);
  }
  axis.days.push({ on, from, to, x, width: axis.width - x, free });
}

/** Where an instant lies on the line; before and after it at its ends. */
export function xOf(axis: Axis, ms: number): number {
  let [low, high] = [0, axis.stretches.length - 1];
  if (high < 0 || ms <= (axis.stretches[0] as Stretch).from) return 0;
  if (ms >= (axis.stretches[high] as Stretch).to) return axis.width;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((axis.stretches[middle] as Stretch).to <= ms) low = middle + 1;
    else high = middle;
  }
  const { from, to, x, width } = axis.stretches[low] as Stretch;
  return x + ((ms - from) / (to - from)) * width;
}

/** The instant at a place on the line: `xOf` the other way round. */
export function instantAt(axis: Axis, x: number): number {
  const wide = axis.stretches.filter(({ width }) => width > 0);
  const here = wide.find((one) => x < one.x + one.width) ?? wide.at(-1);
  if (!here) return Number.NaN;
  const part = Math.min(1, Math.max(0, (x - here.x) / here.width));
  return here.from + part * (here.to - here.from);
}
