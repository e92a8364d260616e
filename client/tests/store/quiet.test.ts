/** Quiet hours on the phone: by the wall clock, over changes of the clocks and leap days (IANA time zone database). */
import assert from "node:assert/strict";
import { test } from "node:test";
import { heldUntil } from "../../src/store/reckon/quiet.ts";

const LISBON = "Europe/Lisbon";

/** In 2026 Lisbon goes on at 01:00 UTC on 29 March and back at 01:00 UTC on 25 October. */
const NIGHTS: [due: string, rings: string][] = [
  ["2026-02-03T21:59Z", "2026-02-03T21:59Z"],
  ["2026-02-03T22:00Z", "2026-02-04T07:00Z"],
  ["2026-03-28T23:00Z", "2026-03-29T06:00Z"],
  ["2026-10-24T22:00Z", "2026-10-25T07:00Z"],
  ["2028-02-28T23:30Z", "2028-02-29T07:00Z"],
  ["2028-02-29T23:30Z", "2028-03-01T07:00Z"],
];

for (const [due, rings] of NIGHTS)
  test(`what is due at ${due} rings at ${rings}`, () => {
    assert.equal(heldUntil(Date.parse(due), "22:00", "07:00", LISBON), Date.parse(rings));
  });

test("an end that the clocks skip comes as much later", () => {
  const held = heldUntil(Date.parse("2026-03-28T23:00Z"), "22:00", "01:30", LISBON);
  assert.equal(held, Date.parse("2026-03-29T01:30Z"));
});

test("the night of a partner far away is their own", () => {
  const due = Date.parse("2026-02-03T14:00Z");
  assert.equal(heldUntil(due, "22:00", "07:00", "America/New_York"), due);
  assert.equal(heldUntil(due, "22:00", "09:30", "America/New_York"), due + 30 * 60_000);
});
