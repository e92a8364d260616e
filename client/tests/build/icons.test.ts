/** The icons are PNG as the W3C recommendation (third edition) lays down. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { crc32, inflateSync } from "node:zlib";
// @ts-expect-error: a plain script of the build
import { png } from "../../build_icons.mjs";

test("the icon is a whole PNG of the size that was asked for", () => {
  const bytes: Buffer = png(64);
  assert.deepEqual([...bytes.subarray(0, 8)], [137, 80, 78, 71, 13, 10, 26, 10]);
  const names: string[] = [];
  let rows = Buffer.alloc(0);
  for (let at = 8; at < bytes.length; ) {
    const length = bytes.readUInt32BE(at);
    const body = bytes.subarray(at + 4, at + 8 + length);
    assert.equal(bytes.readUInt32BE(at + 8 + length), crc32(body));
    names.push(body.toString("latin1", 0, 4));
    if (names.at(-1) === "IDAT") rows = inflateSync(body.subarray(4));
    at += 12 + length;
  }
  assert.deepEqual(names, ["IHDR", "IDAT", "IEND"]);
  assert.equal(rows.length, 64 * (64 * 4 + 1));
  assert.equal(rows[4], 0, "the corner is clear");
  const middle = 32 * (64 * 4 + 1) + 1 + 32 * 4;
  assert.equal(rows[middle + 3], 255, "the middle is not");
});
