/** The rows in memory: what the server knows, with what waits on top. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { Board } from "../../src/store/board.ts";
import { readOperation } from "../../src/store/db.ts";
import { note, zone } from "../support/phone.ts";
import { DEVICE, MEMBER, OTHER, stamp } from "../support/server.ts";

const item = (id: string, fields: Record<string, string | number | boolean>, kind = "zone") => ({
  ...{ kind, id, at: stamp(1), fields, stamps: {}, sets: {} },
});

test("items come by rank, then in the order of their making, without what is gone", () => {
  const board = new Board(DEVICE);
  const rows = [
    item("a", { name: "A", rank: 2 }),
    item("b", { name: "B" }),
    item("c", { name: "C", gone: true }),
    { ...item("d", { name: "D", rank: 2 }), at: stamp(0) },
  ];
  board.load(rows, [], []);
  const ids = board
    .view()
    .items("zone")
    .map((row) => row.id);
  assert.deepEqual(ids, ["b", "d", "a"]);
});

test("an absent field has the catalogue's default", () => {
  const board = new Board(DEVICE);
  board.load([item("m", { name: "Ana", role: "hand" }, "member")], [], []);
  const view = board.view();
  const row = view.items("member")[0];
  assert.ok(row);
  assert.equal(view.field(row, "recoat_lead_min"), 60);
  assert.equal(view.field(row, "name"), "Ana");
});

test("what a waiting operation made is gone again when it is refused, and the refusal is told", () => {
  const board = new Board(DEVICE);
  board.load([], [], []);
  const row = readOperation({ n: 1, at: stamp(5, DEVICE), act: "a", actions: [zone("z", "Bow")] });
  board.addOperation(row);
  assert.equal(board.view().items("zone").length, 1);
  const problem = { type: "t", title: "no", detail: "no" };
  board.setOperations([{ ...row, status: "refused", problem }]);
  assert.equal(board.view().items("zone").length, 0);
  assert.equal(board.view().refused[0]?.problem.title, "no");
  assert.equal(board.view().waitingFor("z"), false);
});

test("of two corrections of one record the later stands, and a withdrawal leaves nothing", () => {
  const board = new Board(DEVICE);
  const rec = (id: string, second: number, replaces: string | null, gone = false) => ({
    ...{ kind: "note", id, at: stamp(second), body: { text: id }, replaces, void: gone },
  });
  board.load([rec("a", 1, null), rec("b", 3, "a"), rec("c", 2, "a"), rec("d", 1, null)], [], []);
  const [tree] = board
    .view()
    .trees("note")
    .filter((one) => one.root.id === "a");
  assert.equal(tree?.record.id, "b");
  assert.deepEqual(
    tree?.leaves.map((row) => row.id),
    ["c", "b"],
  );
  assert.equal(board.view().record("note", "c")?.root_id, "a");
  board.takeBase([rec("e", 9, "b", true)], []);
  board.setOperations([]);
  assert.deepEqual(
    board
      .view()
      .records("note")
      .map((row) => row.id),
    ["d"],
  );
  assert.equal(board.view().allRecords("note").length, 5);
});

test("a record's author is the member whose device made its stamp", () => {
  const board = new Board(DEVICE);
  board.load(
    [item(OTHER, { member_id: MEMBER }, "device"), item(MEMBER, { name: "Ines" }, "member")],
    [],
    [],
  );
  assert.equal(board.view().author(stamp(4, OTHER))?.id, MEMBER);
  assert.equal(board.view().author(stamp(4, "server000000")), undefined);
});

test("a thousand rows and one new operation touch only what it names", () => {
  const board = new Board(DEVICE);
  const zones = Array.from({ length: 3000 }, (_, k) => item(`z${k}`, { name: `Z${k}` }));
  board.load(zones, [], []);
  const before = board.view().items("zone");
  const actions = [note("n1", "soft timber")];
  board.addOperation(readOperation({ n: 1, at: stamp(9, DEVICE), act: "log_note", actions }));
  assert.equal(board.view().items("zone"), before, "the list of zones is the same object");
  assert.equal(board.view().records("note").length, 1);
});
