/**
 * Instants in words for many bars at once: each is put into words once a day, since a timeline says thousands of them and
 * a cheap phone takes a moment for each. The words change with the day, not with the minute.
 */
import { computed } from "@preact/signals";
import { yardZone } from "../../parts/know.ts";
import { now } from "../../store/now.ts";
import {
  dayInWords,
  dayOf,
  instantOf,
  span,
  timeOf,
  whenInWords,
  writtenDay,
} from "../../words/dates.ts";
import { region } from "../../words/index.ts";

/** Now, to the minute. */
export const minute = computed(() => Math.floor(now.value / 60_000) * 60_000);

/** Noon of today in the yard. */
const noon = computed(() => instantOf(dayOf(minute.value, yardZone()), "12:00", yardZone()));

/** Keep what was made for each instant, until the day, the zone or the language is another. */
function keeping<T>(make: (ms: number, zone: string) => T): (ms: number) => T {
  const kept = new Map<number, T>();
  let kept_for = "";
  return (ms) => {
    const zone = yardZone();
    const here = `${noon.value} ${zone} ${region()}`;
    if (here !== kept_for) {
      kept.clear();
      kept_for = here;
    }
    const known = kept.get(ms);
    if (known !== undefined) return known;
    const made = make(ms, zone);
    kept.set(ms, made);
    return made;
  };
}

/** A figure and its unit, a day and its month: on a narrow screen they stay on one line. */
export const together = (words: string): string => words.replaceAll(" ", "\u00a0");

/** `10 d 1 h`, on one line. */
export const spanTogether = (ms: number): string => together(span(ms));

const LAST_SPACE = / (?=\S*$)/;

/** The day is kept together; the time may stand below it. */
const atMs = keeping((ms, zone) =>
  whenInWords(ms, noon.value, zone).split(LAST_SPACE).map(together).join(" "),
);

/** `today 14:20`, `Thu 12 Mar 06:40`. */
export const at = (ms: number | string): string =>
  atMs(typeof ms === "string" ? Date.parse(ms) : ms);

/** `2026-03-02` and `14:20` in the yard. */
export const dayIn = keeping(dayOf);
export const timeIn = keeping(timeOf);

/** `today`, `Thu 12 Mar`. */
export const dayAt = keeping((ms, zone) => dayInWords(ms, noon.value, zone));

/** `Mon 30`, for where a day has little room. */
export const shortDay = keeping((ms, timeZone) =>
  new Intl.DateTimeFormat(region(), { timeZone, weekday: "short", day: "numeric" }).format(ms),
);

export const monthOf = keeping((ms, timeZone) =>
  new Intl.DateTimeFormat(region(), { timeZone, month: "long" }).format(ms),
);

export const dayWritten = (day: string): string =>
  together(writtenDay(day, noon.value, yardZone()));

/** `today 08:00` and `10:30`; both with their days where it goes over midnight. */
export const fromTo = (start: number, end: number): [string, string] => [
  at(start),
  dayIn(start) === dayIn(end) ? timeIn(end) : at(end),
];
