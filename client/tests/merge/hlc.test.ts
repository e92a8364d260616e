/** The hybrid clock. Source of the rules: Kulkarni et al., Logical Physical Clocks (2014). */
import assert from "node:assert/strict";
import { test } from "node:test";
import { after, clamped, parse, tick, write } from "../../src/merge/hlc.ts";
import { RefusedError } from "../../src/merge/refused.ts";

const DEVICE = "phone0000001";

test("a stamp is read back as it was written", () => {
  const text = "019c2f3a4b5c00ff-phone0000001";
  assert.equal(write(parse(text)), text);
});

test("what is no stamp is refused with the place where it stood", () => {
  for (const text of ["", "019c2f3a4b5c00ff", "019C2F3A4B5C00FF-phone0000001", 7, null]) {
    assert.throws(
      () => parse(text, "seen.title"),
      (error) => error instanceof RefusedError && error.field === "seen.title",
    );
  }
});

test("a clock that steps back still makes later stamps", () => {
  let last = tick(null, 5_000, DEVICE);
  for (const now_ms of [4_000, 1, 4_999]) {
    const next = tick(last, now_ms, DEVICE);
    assert.ok(write(next) > write(last));
    assert.equal(next.ms, 5_000);
    last = next;
  }
});

test("a full counter borrows a millisecond", () => {
  const full = { ms: 10, counter: 0xffff, device: DEVICE };
  assert.deepEqual(after(full, DEVICE), { ms: 11, counter: 0, device: DEVICE });
  assert.ok(write(after(full, DEVICE)) > write(full));
});

test("a stamp from the far future is set back, one from five minutes ahead is not", () => {
  const sent = (ms: number) => ({ ms, counter: 3, device: DEVICE });
  assert.deepEqual(clamped(sent(300_000), null, 0), sent(300_000));
  assert.deepEqual(clamped(sent(300_001), null, 0), { ms: 0, counter: 0, device: DEVICE });
  const last = { ms: 500, counter: 7, device: DEVICE };
  assert.deepEqual(clamped(sent(400), last, 1_000), { ms: 500, counter: 8, device: DEVICE });
});
