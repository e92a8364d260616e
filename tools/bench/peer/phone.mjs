// The peer's phones: its own client, storing in memory. Reads orders as JSON lines and answers each with a line.
import { createRequire } from "node:module";
import { serve } from "../orders.mjs";

const require = createRequire(import.meta.url);
const PouchDB = require("pouchdb").plugin(require("pouchdb-adapter-memory"));
const quiet = (one) => {
  one.setMaxListeners(200);
  return one;
};
quiet(PouchDB);

const phones = new Map();
const phone = (name) => {
  if (!phones.has(name)) phones.set(name, quiet(new PouchDB(name, { adapter: "memory" })));
  return phones.get(name);
};
const remote = ({ url, base }) => quiet(new PouchDB(`${url}/${base}`));
const tuned = ({ batch }) => (batch ? { batch_size: batch, batches_limit: 10 } : {});

serve({
  async seed(order) {
    const there = remote(order);
    for (let from = 0; from < order.rows.length; from += 1000) {
      const part = order.rows.slice(from, from + 1000);
      await there.bulkDocs(part.map(({ id, kind, fields }) => ({ ...fields, _id: id, of: kind })));
    }
  },
  async drop(order) {
    const there = remote(order);
    for (let from = 0; from < order.ids.length; from += 500) {
      const keys = order.ids.slice(from, from + 500);
      const found = await there.allDocs({ keys });
      const gone = found.rows.map(({ id, value }) => ({ _id: id, _rev: value.rev, _deleted: true }));
      await there.bulkDocs(gone);
    }
  },
  async pull(order, timed) {
    const [here, there] = [phone(order.phone), remote(order)];
    await timed(() => here.replicate.from(there, tuned(order)));
    return { rows: (await here.info()).doc_count };
  },
  async push(order, timed) {
    const [here, there] = [phone(order.phone), remote(order)];
    await timed(() => here.replicate.to(there, tuned(order)));
  },
  async sync(order, timed) {
    const there = remote(order);
    await timed(() =>
      Promise.all(order.phones.map((name) => phone(name).sync(there, tuned(order)))),
    );
  },
  async edit(order) {
    const here = phone(order.phone);
    for (const { id, fields } of order.edits) await here.put({ ...(await here.get(id)), ...fields });
  },
  /** What of these edits can be seen, and what of them can be found at all. */
  async look(order) {
    const here = phone(order.phone);
    let [seen, found] = [0, 0];
    for (const { id, field, value } of order.edits) {
      const row = await here.get(id, { conflicts: true });
      const losers = await Promise.all(
        (row._conflicts ?? []).map((rev) => here.get(id, { rev })),
      );
      if (row[field] === value) seen += 1;
      if ([row, ...losers].some((one) => one[field] === value)) found += 1;
    }
    return { seen, found };
  },
});
