// Our phones: the client's own store and exchange, on an IndexedDB in memory. Bundled before it runs; orders as JSON lines.
import "fake-indexeddb/auto";
import { Copy } from "../../client/src/store/copy.ts";
import { exchange } from "../../client/src/sync/exchange.ts";
import { serve } from "./orders.mjs";

const phones = new Map();

async function phone({ phone: name, accounts }) {
  if (!phones.has(name)) phones.set(name, await Copy.open(accounts[name].device_id));
  return phones.get(name);
}

async function trip(order, name) {
  const copy = await phone({ ...order, phone: name });
  const { key, refit_id } = order.accounts[name];
  const way = (path, init) => fetch(order.url + path, init);
  const ending = await exchange(copy, { fetch: way, now: Date.now, key, refit_id });
  if (ending.kind !== "done") throw new Error(JSON.stringify(ending));
}

serve({
  async pull(order, timed) {
    await timed(() => trip(order, order.phone));
    const copy = await phone(order);
    const view = copy.board.view();
    const kinds = ["refit", "member", "device", "zone", "job", "step", "link", "product"];
    return { rows: kinds.reduce((sum, kind) => sum + view.items(kind).length, 0) };
  },
  async sync(order, timed) {
    await timed(() => Promise.all(order.phones.map((name) => trip(order, name))));
  },
  async edit(order) {
    const copy = await phone(order);
    for (const { kind, id, fields } of order.edits) {
      const row = copy.board.view().item(kind, id);
      const seen = {};
      for (const name of Object.keys(fields)) seen[name] = row.stamps[name] ?? row.at;
      await copy.commit("edit", [{ do: "set", kind, id, fields, seen }]);
    }
  },
  /** What of these edits can be seen, and what of them can be found at all. */
  async look(order) {
    const copy = await phone(order);
    const view = copy.board.view();
    let [seen, found] = [0, 0];
    const lost = new Set();
    for (const one of view.differences) {
      for (const { value } of [one.kept, one.lost]) {
        lost.add(JSON.stringify([one.item_id, one.field, value]));
      }
    }
    for (const { kind, id, field, value } of order.edits) {
      const shown = view.item(kind, id).fields[field] === value;
      if (shown) seen += 1;
      if (shown || lost.has(JSON.stringify([id, field, value]))) found += 1;
    }
    return { seen, found };
  },
  /** What this phone holds, in one text. */
  async state(order) {
    const view = (await phone(order)).board.view();
    const rows = view.items("step").map((row) => [row.id, row.fields]);
    return { state: JSON.stringify(rows.sort()) };
  },
});
