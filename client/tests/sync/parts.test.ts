/** Parts of items that are here: put over them, asked for only where all is here, and mended where one is not. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { Action } from "../../src/merge/state.ts";
import { round } from "../../src/sync/round.ts";
import { freshDisk, names, openPhone, portsTo, sync, zone } from "../support/phone.ts";
import { Server, stamp } from "../support/server.ts";

beforeEach(freshDisk);

const put = (id: string, fields: Action["fields"], seen = {}): Action => ({
  ...{ do: "set", kind: "zone", id, fields: fields ?? {}, seen },
});

test("a part is put over the item that is here, in memory and on the disk", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Keel"), zone("z2", "Rudder")] });
  await sync(copy, server);
  server.act({ at: stamp(2), actions: [put("z1", { area_m2: 5 })] });
  await sync(copy, server);
  assert.equal(server.requests.at(-1)?.parts, true);
  assert.deepEqual(copy.board.view().item("zone", "z1"), server.item("z1"));
  copy.close();
  assert.deepEqual((await openPhone()).board.view().item("zone", "z1"), server.item("z1"));
});

test("a part leaves nothing of an own entry that did not take effect", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Keel")] });
  await sync(copy, server);
  server.act({ at: stamp(2), actions: [put("z1", { area_m2: 5 })] });
  await copy.commit("drop", [put("z1", { gone: true })]);
  await sync(copy, server);
  assert.equal(server.requests.at(-1)?.parts, true);
  assert.deepEqual(copy.board.view().item("zone", "z1"), server.item("z1"));
  assert.deepEqual(names(copy), ["Keel"], "kept, with a question");
  assert.equal(copy.board.view().differences.length, 1);
});

test("while pages follow, whole rows are asked for, also after the page was closed", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  await sync(copy, server);
  const made = ["z1", "z2", "z3", "z4", "z5"];
  server.act({ at: stamp(1), actions: made.map((id) => zone(id, id)) });
  server.act({ at: stamp(2), actions: [put("z1", { area_m2: 5 })] });
  server.page_rows = 3;
  await round(copy, portsTo(server));
  copy.close();
  const again = await openPhone();
  await sync(again, server);
  assert.equal(server.requests.at(-1)?.parts, false);
  const from_the_start = server.requests.filter((request) => request.cursor === 0);
  assert.equal(from_the_start.length, 1, "nothing had to be loaded again");
  assert.deepEqual(names(again), made);
  assert.deepEqual(again.board.view().item("zone", "z1"), server.item("z1"));
});

test("a part of an item that is not here asks for a whole copy", async () => {
  const [server, copy] = [new Server(), await openPhone()];
  server.act({ at: stamp(1), actions: [zone("z1", "Keel"), zone("z2", "Rudder")] });
  await sync(copy, server);
  await copy.db.delete("rows", ["zone", "z1"]);
  await copy.reload();
  server.act({ at: stamp(2), actions: [put("z1", { area_m2: 5 })] });
  await sync(copy, server);
  assert.deepEqual(names(copy), ["Keel", "Rudder"]);
  assert.deepEqual(copy.board.view().item("zone", "z1"), server.item("z1"));
});
