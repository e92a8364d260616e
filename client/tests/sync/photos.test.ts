/** Pictures go after the words, in pieces, each until the server has it. */
import assert from "node:assert/strict";
import { beforeEach, mock, test } from "node:test";
import type { Copy } from "../../src/store/copy.ts";
import type { BlobRow } from "../../src/store/db.ts";
import { setHooks } from "../../src/store/hooks.ts";
import { hearPhotos, type PhotoProgress } from "../../src/store/photohooks.ts";
import { sha256Of } from "../../src/store/sha256.ts";
import { PIECE_B, sendPhotos } from "../../src/sync/photos.ts";
import { freshDisk, note, openPhone, portsTo, sync } from "../support/phone.ts";
import { Server } from "../support/server.ts";
import { Uploads } from "../support/uploads.ts";

beforeEach(freshDisk);

/** Some bytes that do not repeat; four pieces and a little. */
function bytesOf(seed: number, length = 4 * PIECE_B + 1000): ArrayBuffer {
  const made = new Uint8Array(length);
  for (let at = 0; at < length; at++) made[at] = (at * 31 + (at >> 8) * 7 + seed) & 0xff;
  return made.buffer;
}

async function picture(seed: number, more: Partial<BlobRow> = {}): Promise<BlobRow> {
  const bytes = bytesOf(seed, seed > 9 ? 100 : undefined);
  const sha256 = await sha256Of(bytes);
  return { sha256, type: "image/jpeg", bytes, status: "waiting", ...more };
}

/** A phone whose words are through, with pictures that wait. */
async function withPictures(...pictures: BlobRow[]): Promise<Copy> {
  const copy = await openPhone();
  await copy.commit("add_photo", [note("n1", "pictures")], pictures);
  await sync(copy, new Server());
  return copy;
}

const portsOf = (server: Uploads) => ({
  ...portsTo(new Server()),
  fetch: server.fetch as unknown as typeof globalThis.fetch,
});

const waiting = (copy: Copy): Promise<IDBValidKey[]> =>
  copy.db.getAllKeysFromIndex("blobs", "status", "waiting");

const refusal = (status: number, code: string): Response =>
  new Response(
    JSON.stringify({ type: `urn:tackwatch:problem:${code}`, title: "", detail: "No." }),
    {
      status,
    },
  );

test("a picture and its record are on the disk together", async () => {
  const copy = await openPhone();
  const [one, other] = [await picture(1), await picture(2)];
  await copy.commit("add_photo", [note("n1", "a picture")], [one]);
  await assert.rejects(copy.commit("add_photo", [note("n1", "same id")], [other]));
  assert.deepEqual(await waiting(copy), [one.sha256]);
});

test("each picture is sent once, byte for byte, and stays to be looked at", async () => {
  const pictures = [await picture(1), await picture(2)];
  const copy = await withPictures(...pictures);
  const server = new Uploads();
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  assert.equal(server.sent_b, 2 * (4 * PIECE_B + 1000));
  for (const { sha256, bytes } of pictures) {
    assert.deepEqual(server.photos.get(sha256), new Uint8Array(bytes));
    assert.equal((await copy.db.get("blobs", sha256))?.status, "sent");
  }
});

test("a line that breaks after any byte costs only the rest", async () => {
  const one = await picture(1);
  const edges = [0, 1, 1000, PIECE_B - 1];
  for (const at_piece of [0, 1, 2, 3, 4]) {
    for (const edge of edges) {
      freshDisk();
      const copy = await withPictures(one);
      const server = new Uploads();
      server.breaksAfter = (piece_b, count) =>
        count === at_piece + 2 ? Math.min(edge, piece_b - 1) : null;
      assert.equal(await sendPhotos(copy, portsOf(server)), "later");
      assert.deepEqual(await waiting(copy), [one.sha256]);
      assert.equal(await sendPhotos(copy, portsOf(server)), "done");
      assert.equal(server.sent_b, one.bytes.byteLength);
      assert.deepEqual(server.photos.get(one.sha256), new Uint8Array(one.bytes));
      copy.close();
    }
  }
});

test("an answer that is lost costs nothing", async () => {
  const one = await picture(1);
  for (const at_piece of [0, 3, 4]) {
    freshDisk();
    const copy = await withPictures(one);
    const server = new Uploads();
    let count = -1;
    server.kept = () => {
      count += 1;
      if (count === at_piece) throw new TypeError("the answer was lost");
    };
    assert.equal(await sendPhotos(copy, portsOf(server)), "later");
    assert.equal(await sendPhotos(copy, portsOf(server)), "done");
    assert.equal(server.sent_b, one.bytes.byteLength);
    copy.close();
  }
});

test("a page that is killed at any piece goes on from what arrived", async () => {
  const one = await picture(1);
  const copy = await withPictures(one);
  copy.close();
  const server = new Uploads();
  for (let kills = 0; ; kills++) {
    assert.ok(kills < 20);
    const page = await openPhone();
    // The page is gone with the first piece: neither its code nor its disk does anything any more.
    server.kept = () => {
      page.close();
      throw new TypeError("the page was killed");
    };
    const ended = await sendPhotos(page, portsOf(server)).catch(() => "killed");
    page.close();
    if (server.parts.get(one.sha256)?.bytes.length === one.bytes.byteLength) break;
    assert.notEqual(ended, "done");
  }
  assert.equal(server.sent_b, one.bytes.byteLength);
});

test("words that were written meanwhile go before the next piece", async () => {
  const one = await picture(1);
  const copy = await withPictures(one);
  const server = new Uploads();
  let pieces = 0;
  server.kept = async () => {
    pieces += 1;
    if (pieces === 2) await copy.commit("log_note", [note("n2", "quick")]);
  };
  assert.equal(await sendPhotos(copy, portsOf(server)), "later");
  assert.equal(pieces, 2);
  await sync(copy, new Server());
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  assert.equal(server.sent_b, one.bytes.byteLength);
});

test("what the server does not take is kept with its reason, and holds up no other", async () => {
  const pictures = [await picture(1), await picture(2)];
  const copy = await withPictures(...pictures);
  const server = new Uploads();
  const [first, second] = (await waiting(copy)) as [string, string];
  server.instead = (_, count) => (count === 1 ? refusal(413, "photos-full") : null);
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  const row = await copy.db.get("blobs", first);
  assert.equal(row?.status, "refused");
  assert.equal(row?.problem?.type, "urn:tackwatch:problem:photos-full");
  assert.ok(row?.bytes.byteLength);
  assert.deepEqual([...server.photos.keys()], [second]);
  const before = server.requests;
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  assert.equal(server.requests, before);
});

test("only a problem of our server is a verdict", async () => {
  const one = await picture(1);
  const copy = await withPictures(one);
  const server = new Uploads();
  for (const answer of [
    new Response("<html>Log in to the yard's net</html>", { status: 403 }),
    new Response("<html>Log in to the yard's net</html>", { status: 200 }),
    new Response('{"type":"about:blank"}', { status: 413 }),
    refusal(429, "too-many"),
    refusal(503, "busy"),
  ]) {
    server.instead = () => answer;
    assert.equal(await sendPhotos(copy, portsOf(server)), "later");
    assert.deepEqual(await waiting(copy), [one.sha256]);
  }
});

test("bytes that were spoilt on the way are sent again, bytes that were spoilt here are not", async () => {
  const [good, bad] = [await picture(1), await picture(2)];
  const copy = await withPictures(good);
  const server = new Uploads();
  server.instead = (method) => (method === "PATCH" ? refusal(422, "hash-differs") : null);
  assert.equal(await sendPhotos(copy, portsOf(server)), "later");
  assert.deepEqual(await waiting(copy), [good.sha256]);
  server.instead = () => null;
  await copy.db.put("blobs", { ...bad, bytes: bytesOf(3) });
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
  assert.deepEqual([...server.photos.keys()], [good.sha256]);
  assert.equal((await copy.db.get("blobs", bad.sha256))?.status, "refused");
});

test("an upload that goes on elsewhere is asked for again, and not for ever", async () => {
  const one = await picture(1);
  const copy = await withPictures(one);
  const server = new Uploads();
  for (const status of [404, 409, 410]) {
    server.requests = 0;
    server.instead = (_, count) => (count === 3 ? refusal(status, "elsewhere") : null);
    assert.equal(await sendPhotos(copy, portsOf(server)), "done");
    await copy.db.put("blobs", one);
    server.photos.clear();
  }
  server.instead = (method) => (method === "PATCH" ? refusal(409, "offset-differs") : null);
  server.requests = 0;
  assert.equal(await sendPhotos(copy, portsOf(server)), "later");
  assert.ok(server.requests <= 12);
  assert.deepEqual(await waiting(copy), [one.sha256]);
});

test("with a key that was withdrawn no picture is sent", async () => {
  const one = await picture(1);
  const copy = await withPictures(one);
  const server = new Uploads();
  server.instead = () => refusal(401, "key-withdrawn");
  assert.equal(await sendPhotos(copy, portsOf(server)), "revoked");
  assert.equal(server.requests, 1);
  assert.deepEqual(await waiting(copy), [one.sha256]);
});

test("what the camera wrote goes along only where a person said so", async () => {
  const pictures = [await picture(1), await picture(2, { keep_metadata: true })];
  const copy = await withPictures(...pictures);
  const server = new Uploads();
  const said = new Map<string, boolean>();
  server.kept = () => {
    for (const [sha256, part] of server.parts) said.set(sha256, part.keep_metadata);
  };
  await sendPhotos(copy, portsOf(server));
  assert.deepEqual(
    pictures.map(({ sha256 }) => said.get(sha256)),
    [false, true],
  );
});

test("a page that looks on hears how far each picture came", async () => {
  const copy = await withPictures(await picture(1));
  const heard: (PhotoProgress | null)[] = [];
  hearPhotos((progress) => heard.push(progress));
  await sendPhotos(copy, portsOf(new Uploads()));
  hearPhotos(() => {});
  const size_b = 4 * PIECE_B + 1000;
  assert.deepEqual(
    heard.map((one) => one?.sent_b ?? null),
    [0, PIECE_B, 2 * PIECE_B, 3 * PIECE_B, 4 * PIECE_B, size_b, null],
  );
});

test("after a failure the next try comes by itself, later each time, and never later than a minute", async () => {
  const copy = await withPictures(await picture(11));
  const server = new Uploads();
  server.instead = () => {
    throw new TypeError("no signal");
  };
  const waits: number[] = [];
  let tries = 0;
  setHooks({
    sync: async () => {
      tries += 1;
    },
    nudge: () => {},
  });
  const timers = mock.method(globalThis, "setTimeout", (work: () => void, wait_ms: number) => {
    waits.push(wait_ms);
    queueMicrotask(work);
    return 0;
  });
  try {
    for (let count = 0; count < 12; count++)
      assert.equal(await sendPhotos(copy, portsOf(server)), "later");
  } finally {
    timers.mock.restore();
  }
  const asked = waits.filter((wait_ms) => wait_ms >= 1000);
  assert.equal(tries, 12);
  assert.ok((asked[0] as number) <= 4000, `${asked[0]}`);
  assert.ok(Math.max(...asked) <= 60_000);
  assert.ok((asked.at(-1) as number) >= 30_000);
  server.instead = () => null;
  assert.equal(await sendPhotos(copy, portsOf(server)), "done");
});
