/** Pictures go after the words, each until the server has it. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { BlobRow } from "../../src/store/db.ts";
import { sendPhotos } from "../../src/sync/photos.ts";
import { freshDisk, note, openPhone, portsTo } from "../support/phone.ts";
import { Server } from "../support/server.ts";

beforeEach(freshDisk);

const picture = (name: string): BlobRow => ({
  ...{
    sha256: name,
    type: "image/jpeg",
    bytes: new TextEncoder().encode(name).buffer as ArrayBuffer,
  },
  status: "waiting",
});

async function withPictures(names: string[]) {
  const copy = await openPhone();
  await copy.commit("add_photo", [note("n1", "two pictures")], names.map(picture));
  return copy;
}

function ports(answer: (path: string) => Response) {
  const sent: string[] = [];
  const fetch = async (path: string, init: RequestInit): Promise<Response> => {
    const status = answer(path);
    if (status.ok) sent.push(await new Response(init.body as BodyInit).text());
    return status;
  };
  return {
    sent,
    ports: { ...portsTo(new Server()), fetch: fetch as unknown as typeof globalThis.fetch },
  };
}

const left = async (copy: Awaited<ReturnType<typeof openPhone>>): Promise<IDBValidKey[]> =>
  copy.db.getAllKeysFromIndex("blobs", "status", "waiting");

test("a picture and its record are on the disk together", async () => {
  const copy = await withPictures(["aa", "bb"]);
  assert.deepEqual(await left(copy), ["aa", "bb"]);
  await assert.rejects(copy.commit("add_photo", [note("n1", "same id")], [picture("cc")]));
  assert.deepEqual(await left(copy), ["aa", "bb"]);
});

test("each picture is sent once and stays to be looked at", async () => {
  const copy = await withPictures(["aa", "bb"]);
  const server = ports(() => new Response(null, { status: 201 }));
  assert.equal(await sendPhotos(copy, server.ports), "done");
  assert.equal(await sendPhotos(copy, server.ports), "done");
  assert.deepEqual(server.sent, ["aa", "bb"]);
  assert.equal((await copy.db.get("blobs", "aa"))?.status, "sent");
});

test("a picture that was cut is sent again", async () => {
  const copy = await withPictures(["aa", "bb"]);
  const cut = ports(() => {
    throw new TypeError("network");
  });
  assert.equal(await sendPhotos(copy, cut.ports), "later");
  assert.deepEqual(await left(copy), ["aa", "bb"]);
});

test("a picture that the server does not take stays here and holds up no other", async () => {
  const copy = await withPictures(["aa", "bb"]);
  const picky = ports((path) => new Response(null, { status: path.endsWith("aa") ? 422 : 201 }));
  assert.equal(await sendPhotos(copy, picky.ports), "later");
  assert.deepEqual(await left(copy), ["aa"]);
});

test("with a key that was withdrawn no picture is sent", async () => {
  const copy = await withPictures(["aa"]);
  assert.equal(
    await sendPhotos(copy, ports(() => new Response(null, { status: 401 })).ports),
    "revoked",
  );
  assert.deepEqual(await left(copy), ["aa"]);
});
