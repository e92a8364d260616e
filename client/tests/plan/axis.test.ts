/** The line of time: working hours wide, nights and free days narrow, days as long as they are, nothing out of order. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { daysBetween, instantAt, makeAxis, weekdayOf, xOf } from "../../src/plan/axis.ts";

const ZONE = "Europe/Lisbon";
const HOURS = { zone: ZONE, day_starts: "08:00", day_ends: "17:00", work_days: "12345" };
const SCALE = { hour: 50, night: 30, free: 70 };

// 5 March 2026 is a Thursday (any calendar).
const DAYS = daysBetween(
  Date.parse("2026-03-05T10:00:00Z"),
  Date.parse("2026-03-09T10:00:00Z"),
  ZONE,
);

test("all days from the first to the last are there, with the weekdays of the calendar", () => {
  assert.deepEqual(DAYS, ["2026-03-05", "2026-03-06", "2026-03-07", "2026-03-08", "2026-03-09"]);
  assert.deepEqual(DAYS.map(weekdayOf), [4, 5, 6, 7, 1]);
});

test("a working hour is as wide as the next, a night is narrow, and a free day is one narrow piece", () => {
  const axis = makeAxis(DAYS, HOURS, SCALE);
  const x = (at: string) => xOf(axis, Date.parse(at));
  assert.equal(x("2026-03-05T08:00:00Z"), 30);
  assert.equal(x("2026-03-05T09:00:00Z") - x("2026-03-05T08:00:00Z"), 50);
  assert.equal(x("2026-03-05T17:00:00Z") - x("2026-03-05T16:00:00Z"), 50);
  assert.equal(x("2026-03-06T08:00:00Z") - x("2026-03-05T17:00:00Z"), 60);
  assert.deepEqual(
    axis.days.map(({ width, free }) => [width, free]),
    [
      [510, false],
      [510, false],
      [70, true],
      [70, true],
      [510, false],
    ],
  );
  assert.equal(axis.width, 3 * 510 + 2 * 70);
});

test("a window that closes at two in the night lies between midnight and the morning", () => {
  const axis = makeAxis(DAYS, HOURS, SCALE);
  const at = xOf(axis, Date.parse("2026-03-06T02:00:00Z"));
  assert.equal(at, 510 + (2 / 8) * 30);
});

test("a free day on which somebody works is as wide as a working day", () => {
  const axis = makeAxis(DAYS, HOURS, SCALE, new Set(["2026-03-07"]));
  assert.equal(axis.days[2]?.width, 510);
  assert.equal(axis.days[2]?.free, false);
});

test("the line never goes back, and ends where the days end", () => {
  const axis = makeAxis(DAYS, HOURS, SCALE);
  const [from, to] = [Date.parse("2026-03-04T00:00:00Z"), Date.parse("2026-03-11T00:00:00Z")];
  let before = 0;
  for (let ms = from; ms <= to; ms += 17 * 60_000) {
    const x = xOf(axis, ms);
    assert.ok(x >= before, new Date(ms).toISOString());
    before = x;
  }
  assert.equal(xOf(axis, from), 0);
  assert.equal(xOf(axis, to), axis.width);
});

// Lisbon puts its clocks ahead on 29 March 2026 at 01:00 UTC (IANA time zone database).
test("a day on which the clocks go ahead has 23 hours, by the IANA database", () => {
  const axis = makeAxis(["2026-03-29", "2026-03-30"], { ...HOURS, work_days: "1234567" }, SCALE);
  const [first, second] = axis.days;
  assert.equal((first?.to ?? 0) - (first?.from ?? 0), 23 * 3_600_000);
  assert.equal((second?.to ?? 0) - (second?.from ?? 0), 24 * 3_600_000);
  assert.equal(xOf(axis, Date.parse("2026-03-29T07:00:00Z")), 30);
});

test("a yard that works until midnight writes 00:00", () => {
  const axis = makeAxis(["2026-03-05"], { ...HOURS, day_ends: "00:00" }, SCALE);
  assert.equal(axis.width, 30 + 16 * 50);
});

test("a line without days is empty", () => {
  assert.equal(makeAxis([], HOURS, SCALE).width, 0);
  assert.equal(xOf(makeAxis([], HOURS, SCALE), 0), 0);
});

test("an instant is found again from its place on the line", () => {
  const axis = makeAxis(["2026-03-27", "2026-03-28", "2026-03-29", "2026-03-30"], HOURS, SCALE);
  const [first, last] = [axis.days[0]?.from ?? 0, axis.days.at(-1)?.to ?? 0];
  for (let ms = first; ms < last; ms += 37 * 60_000)
    assert.ok(Math.abs(instantAt(axis, xOf(axis, ms)) - ms) < 1000, new Date(ms).toISOString());
  assert.equal(instantAt(axis, -5), first);
  assert.equal(instantAt(axis, axis.width + 5), last);
});
