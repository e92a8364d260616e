/** What is in a JPEG beside the picture goes, and the picture stays as it is (ITU-T T.81, Annex B). */
import assert from "node:assert/strict";
import { test } from "node:test";
import { bare } from "../../src/store/jpeg.ts";

const bytes = (text: string): number[] => Array.from(text, (one) => one.charCodeAt(0));

const segment = (marker: number, body: string): number[] => [
  ...[0xff, marker, (body.length + 2) >> 8, (body.length + 2) & 0xff],
  ...bytes(body),
];

const SOI = [0xff, 0xd8];
/** A scan with a stuffed byte, a restart marker and bytes that look like a segment; then the end. */
const SCAN = [...segment(0xda, "head"), 1, 2, 0xff, 0, 0xff, 0xd0, 0xff, 0xe1, 0, 3, 9, 0xff, 0xd9];
const NEEDED = [
  ...segment(0xe0, "JFIF\0 and so on"),
  ...segment(0xe2, "ICC_PROFILE\0 colours"),
  ...segment(0xee, "Adobe\0"),
  ...segment(0xdb, "tables"),
];

const stripped = (...parts: number[][]): number[] =>
  Array.from(new Uint8Array(bare(Uint8Array.from(parts.flat()).buffer)));

test("place, camera and comments go, wherever they stand before the picture", () => {
  const beside = [
    segment(0xe1, "Exif\0\0 the place"),
    segment(0xe1, "http://ns.adobe.com/xap/1.0/\0 the place"),
    segment(0xe2, "MPF\0 another picture"),
    segment(0xed, "Photoshop 3.0\0"),
    segment(0xfe, "a comment"),
  ];
  for (const part of beside) {
    assert.deepEqual(stripped(SOI, part, NEEDED, SCAN), [SOI, NEEDED, SCAN].flat());
    assert.deepEqual(stripped(SOI, NEEDED, part, SCAN), [SOI, NEEDED, SCAN].flat());
  }
});

test("a picture with nothing beside it stays byte for byte", () => {
  assert.deepEqual(stripped(SOI, NEEDED, SCAN), [SOI, NEEDED, SCAN].flat());
});

test("bytes that are cut short end where they end", () => {
  const all = [SOI, NEEDED, SCAN].flat();
  for (let length = 0; length < all.length; length++)
    assert.ok(stripped(all.slice(0, length)).length <= length);
});
