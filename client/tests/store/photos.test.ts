/** Which pictures a phone may let go of, and which it never does. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { BlobRow } from "../../src/store/db.ts";
import { dropSent, sentPhotosOldestFirst } from "../../src/store/photos.ts";
import { freshDisk, openPhone } from "../support/phone.ts";

beforeEach(freshDisk);

const row = (sha256: string, status: BlobRow["status"], kept_at?: number): BlobRow => ({
  ...{ sha256, type: "image/jpeg", bytes: new ArrayBuffer(sha256.length * 10), status },
  ...(kept_at === undefined ? {} : { kept_at }),
});

async function withRows(...rows: BlobRow[]) {
  const copy = await openPhone();
  for (const one of rows) await copy.db.put("blobs", one);
  return copy;
}

test("pictures that the server has too are listed by age, those of older versions first", async () => {
  const copy = await withRows(
    row("aa", "sent", 30),
    row("bbb", "fetched", 20),
    row("cccc", "sent"),
    row("dd", "waiting", 1),
    row("ee", "refused", 1),
    row("ff.small", "thumbnail", 1),
  );
  assert.deepEqual(await sentPhotosOldestFirst(copy), [
    { sha256: "cccc", status: "sent", size_b: 40, kept_at: 0 },
    { sha256: "bbb", status: "fetched", size_b: 30, kept_at: 20 },
    { sha256: "aa", status: "sent", size_b: 20, kept_at: 30 },
  ]);
});

test("what has not been sent is not let go of, even when it is named", async () => {
  const copy = await withRows(row("aa", "sent", 1), row("bb", "waiting", 1), row("cc", "refused"));
  assert.equal(await dropSent(copy, ["aa", "bb", "cc", "none"]), 20);
  assert.deepEqual(await copy.db.getAllKeys("blobs"), ["bb", "cc"]);
});
