/** Instants, days and spans in words, in the refit's time zone and the person's language. */
import { region, say } from "./index.ts";

const made = new Map<string, Intl.DateTimeFormat>();

function format(tag: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = tag + JSON.stringify(options);
  const known = made.get(key);
  if (known) return known;
  const fresh = new Intl.DateTimeFormat(tag, options);
  made.set(key, fresh);
  return fresh;
}

/** `2026-03-02`: the day of an instant in a time zone. */
export const dayOf = (ms: number, zone: string) =>
  format("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" }).format(ms);

/** `14:20` on the yard's clock. */
export const timeOf = (ms: number, zone: string) =>
  format("en-GB", {
    timeZone: zone,
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  }).format(ms);

const dayNumber = (day: string) => Math.round(Date.parse(`${day}T00:00:00Z`) / 86_400_000);

/** How many midnights of the yard lie between now and an instant. */
export const daysFrom = (ms: number, now: number, zone: string) =>
  dayNumber(dayOf(ms, zone)) - dayNumber(dayOf(now, zone));

/** `today`, `tomorrow`, `Thu 12 Mar`. */
export function dayInWords(ms: number, now: number, zone: string): string {
  const days = daysFrom(ms, now, zone);
  if (days === 0) return say("time.today_only");
  if (days === 1) return say("time.tomorrow_only");
  if (days === -1) return say("time.yesterday_only");
  return format(region(), {
    timeZone: zone,
    weekday: "short",
    day: "numeric",
    month: "short",
    ...(Math.abs(days) > 300 ? { year: "numeric" as const } : {}),
  }).format(ms);
}

/** `today 14:20`, `tomorrow 06:40`, `Thu 12 Mar 06:40`. */
export function whenInWords(ms: number, now: number, zone: string): string {
  const time = timeOf(ms, zone);
  const days = daysFrom(ms, now, zone);
  if (days === 0) return say("time.today", { time });
  if (days === 1) return say("time.tomorrow", { time });
  if (days === -1) return say("time.yesterday", { time });
  return say("time.on", { day: dayInWords(ms, now, zone), time });
}

/** `Mon, Tue, Fri` of `125`: days of the week by their ISO 8601 numbers; 5 January 1970 was a Monday. */
export const weekdaysInWords = (days: string) =>
  [...days]
    .map((day) =>
      format(region(), { timeZone: "UTC", weekday: "short" }).format(
        (3 + Number(day)) * 86_400_000,
      ),
    )
    .join(", ");

/** A long day for headings: `Wednesday, 4 March`. */
export const longDay = (ms: number, zone: string) =>
  format(region(), { timeZone: zone, weekday: "long", day: "numeric", month: "long" }).format(ms);

/** `75 min`, `3 h 20 min`, `2 d 4 h`. Whole minutes are cut, never rounded up: what is left is never overstated. */
export function span(ms: number): string {
  const minutes = Math.floor(Math.abs(ms) / 60_000);
  if (minutes < 120) return say("time.min", { n: minutes });
  const hours = Math.floor(minutes / 60);
  if (hours < 48) {
    const min = minutes % 60;
    return min ? say("time.h_min", { h: hours, min }) : say("time.h", { h: hours });
  }
  const days = Math.floor(hours / 24);
  const h = hours % 24;
  return h && days < 14 ? say("time.d_h", { d: days, h }) : say("time.d", { n: days });
}

/** `75 min left` ahead, `20 min ago` behind. */
export function leftInWords(ms: number, now: number): string {
  if (ms > now) return say("time.left", { span: span(ms - now) });
  return now - ms < 60_000 ? say("time.just_now") : say("time.ago", { span: span(now - ms) });
}

/** A day that was written as `2026-03-02`, in words. */
export function writtenDay(day: string, now: number, zone: string): string {
  const noon = instantOf(day, "12:00", zone);
  return Number.isNaN(noon) ? day : dayInWords(noon, now, zone);
}

/** `14:20` today, else with its day. */
export const shortWhen = (ms: number, now: number, zone: string) =>
  daysFrom(ms, now, zone) === 0 ? timeOf(ms, zone) : whenInWords(ms, now, zone);

/** A number as the language writes it. */
export const number = (value: number, digits = 1) =>
  new Intl.NumberFormat(region(), { maximumFractionDigits: digits }).format(value);

/** A number as a person would type it: no signs between thousands. Empty for what is none. */
export const typed = (value: unknown, digits = 3): string =>
  typeof value === "number"
    ? new Intl.NumberFormat(region(), {
        maximumFractionDigits: digits,
        useGrouping: false,
      }).format(value)
    : "";

/** The instant of a wall time (`2026-03-02`, `14:20`) in a time zone; a time that the clocks skip moves ahead. */
export function instantOf(day: string, time: string, zone: string): number {
  const wall = Date.parse(`${day}T${time}:00Z`);
  const shown = (ms: number) => Date.parse(`${dayOf(ms, zone)}T${timeOf(ms, zone)}:00Z`);
  const first = wall + (wall - shown(wall));
  const second = first + (wall - shown(first));
  return shown(first) === wall ? first : Math.max(first, second);
}

/** Read a number as people type it: a comma or a point, spaces allowed. NaN when it is none. */
export function readNumber(text: string): number {
  const bare = text.replace(/[\s\u00a0\u202f]/g, "").replace("−", "-");
  const plain = bare.includes(",") && !bare.includes(".") ? bare.replace(",", ".") : bare;
  return /^-?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : Number.NaN;
}
