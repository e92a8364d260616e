/** A phone that runs full, at each of its writes: nothing unsent goes, no word is lost, and what is written is whole. */
import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import type { BlobRow } from "../../src/store/db.ts";
import { wholly } from "../../src/store/db.ts";
import { commit, openCopy } from "../../src/store/local.ts";
import { makeRoom, PhoneFullError, withRoom } from "../../src/store/room.ts";
import type { Account } from "../../src/store/session.ts";
import { currentAccount } from "../../src/store/session.ts";
import { syncState } from "../../src/store/syncState.ts";
import { turn } from "../../src/sync/turn.ts";
import { note } from "../support/phone.ts";
import { Server, stamp } from "../support/server.ts";
import { onStage, written } from "../support/stage.ts";

onStage();

const WRITES = ["put", "add"] as const;
const real = Object.fromEntries(WRITES.map((name) => [name, IDBObjectStore.prototype[name]]));
const remove = IDBObjectStore.prototype.delete;
const full = (): DOMException => new DOMException("no room", "QuotaExceededError");

/** Let the disk be full at the write with this number, and from then on for as long as `isFull` says. */
function fillUp(first: number, isFull: () => boolean): void {
  let count = 0;
  for (const name of WRITES) {
    const write = real[name] as (...given: unknown[]) => IDBRequest;
    Object.assign(IDBObjectStore.prototype, {
      [name](this: IDBObjectStore, ...given: unknown[]) {
        if (++count >= first && isFull()) throw full();
        return write.apply(this, given);
      },
    });
  }
}

const emptyOut = (): void => {
  Object.assign(IDBObjectStore.prototype, real, { delete: remove });
};
beforeEach(emptyOut);
afterEach(emptyOut);

const picture = (sha256: string, status: BlobRow["status"], kept_at = 0): BlobRow => ({
  ...{ sha256, type: "image/jpeg", bytes: new ArrayBuffer(2_000_000), status, kept_at },
});

async function withPictures(...rows: BlobRow[]): Promise<void> {
  for (const row of rows) await openCopy()?.db.put("blobs", row);
}

const here = async () => ((await openCopy()?.db.getAllKeys("blobs")) ?? []).sort();

test("an entry that finds no room at any of its writes takes that of a picture that was sent", async () => {
  for (let at = 1; at <= 3; at++) {
    emptyOut();
    await withPictures(picture("sent", "sent"), picture("fetched", "fetched"));
    await withPictures(picture(`own-${at}`, "waiting"));
    let gone = false;
    IDBObjectStore.prototype.delete = function (this: IDBObjectStore, key: IDBValidKey) {
      gone ||= key === "sent";
      return remove.call(this, key);
    };
    fillUp(at, () => !gone);
    await commit("log_note", [note(`n${at}`, "soft timber")], [picture(`new-${at}`, "waiting")]);
    emptyOut();
    assert.equal((await written()).length, at, `write ${at}`);
    const left = await here();
    assert.ok(left.includes(`own-${at}`) && left.includes(`new-${at}`), `write ${at}`);
    assert.ok(!left.includes("sent"), `write ${at}`);
    assert.equal(syncState.peek().full, false);
  }
});

test("an entry that finds no room at all says so, writes nothing, and can be written again", async () => {
  await withPictures(picture("own", "waiting"));
  for (let at = 1; at <= 3; at++) {
    fillUp(at, () => true);
    const act = commit("log_note", [note("n1", "soft timber")], [picture("new", "waiting")]);
    await assert.rejects(act, (error) => {
      assert.ok(error instanceof PhoneFullError);
      assert.equal(error.type, "urn:tackwatch:problem:phone-full");
      return true;
    });
    emptyOut();
    assert.deepEqual(await written(), [], `write ${at}`);
    assert.deepEqual(await here(), ["own"], `write ${at}`);
    assert.equal(syncState.peek().full, true);
  }
  await commit("log_note", [note("n1", "soft timber")], [picture("new", "waiting")]);
  assert.deepEqual(
    (await written()).map((row) => row.n),
    [1],
  );
  assert.deepEqual(await here(), ["new", "own"]);
  assert.equal(syncState.peek().full, false);
});

test("what was sent goes before what was fetched, no more than is needed, and what waits never", async () => {
  const copy = openCopy();
  assert.ok(copy);
  await withPictures(
    picture("f", "fetched", 1),
    picture("s1", "sent", 3),
    picture("s2", "sent", 2),
  );
  await withPictures(picture("w", "waiting"), picture("x", "refused"));
  assert.equal(await makeRoom(copy, 1), 2_000_000);
  assert.deepEqual(await here(), ["f", "s1", "w", "x"]);
  assert.equal(await makeRoom(copy, 3_000_000), 4_000_000);
  assert.deepEqual(await here(), ["w", "x"]);
  assert.equal(await makeRoom(copy, 1), 0);
  assert.deepEqual(await here(), ["w", "x"]);
});

test("an answer that finds no room at any of its writes changes nothing and is asked for again", async () => {
  const server = new Server();
  server.act({ at: stamp(2), actions: [note("n1", "of another phone")] });
  globalThis.fetch = server.fetch as typeof fetch;
  const [copy, account] = [openCopy(), currentAccount() as Account];
  assert.ok(copy);
  await copy.setMeta(() => ({ epoch: server.epoch }));
  await commit("log_note", [note("n2", "my own")]);
  let at = 1;
  for (; ; at++) {
    const before = await copy.readMeta();
    fillUp(at, () => true);
    const ending = await turn(copy, account, { taken: () => {} });
    emptyOut();
    if (ending.kind === "done") break;
    assert.equal(ending.kind, "full", `write ${at}`);
    const after = await copy.readMeta();
    assert.deepEqual([after.cursor, after.version], [before.cursor, before.version], `write ${at}`);
    assert.equal((await written())[0]?.status, "waiting", `write ${at}`);
    assert.equal(copy.board.view().records("note").length, 1, "the own one stays to be seen");
  }
  assert.ok(at > 3, `only ${at} writes were tried`);
  assert.equal(copy.board.view().records("note").length, 2);
  assert.equal(server.phone(copy.device_id).last_n, 1);
});

test("a transaction that is broken for want of room says that, not that its requests were broken off", async () => {
  const done = Promise.reject(full());
  const abort = (): never => {
    throw new DOMException("over", "InvalidStateError");
  };
  const broken = () => Promise.reject(new DOMException("broken off", "AbortError"));
  await assert.rejects(wholly({ done, abort }, broken), { name: "QuotaExceededError" });
});

test("an error that has nothing to do with room lets no picture go", async () => {
  await withPictures(picture("sent", "sent"));
  const copy = openCopy();
  assert.ok(copy);
  await assert.rejects(
    withRoom(copy, () => Promise.reject(new TypeError("else"))),
    TypeError,
  );
  assert.deepEqual(await here(), ["sent"]);
});
