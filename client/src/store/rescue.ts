/**
 * A page that is open while the browser's data are cleared still has in its memory what is gone from the disk: the key,
 * the refit, and what was written and not sent. All of it is put back but the pictures, which are not in memory.
 */
import type { Copy } from "./copy.ts";
import { wholly } from "./db.ts";
import { home } from "./home.ts";
import { currentAccount } from "./session.ts";

/** Whether a write failed because the database was closed under our hands. */
export const isClosed = (error: unknown): boolean =>
  error instanceof Error && error.name === "InvalidStateError";

/** Put what `lost` has in memory into the empty copy that stands in its place; one that is not empty is left alone. */
export async function putBack(lost: Copy, fresh: Copy): Promise<void> {
  if (fresh.meta.next_n > 1 || fresh.meta.version > 0) return;
  await keepKey(lost.device_id);
  const { items, records, differences } = lost.board.baseLayer();
  const tx = fresh.db.transaction(["operations", "meta", "rows", "differences"], "readwrite");
  await wholly(tx, async () => {
    const [rows, second] = [tx.objectStore("rows"), tx.objectStore("differences")];
    await Promise.all([
      tx.objectStore("meta").put({ ...lost.meta, aside: null, snapshot: null, name: "meta" }),
      ...[...items.values(), ...records.values()].map(async (row) => rows.put(row)),
      ...[...differences.values()].map(async (row) => second.put(row)),
      ...lost.board.unsettled().map(async (row) => tx.objectStore("operations").put(row)),
    ]);
  });
  await fresh.reload();
}

async function keepKey(device_id: string): Promise<void> {
  const account = currentAccount();
  if (account?.device_id !== device_id) return;
  const db = await home();
  await db.put("accounts", account);
  await db.put("settings", { name: "current", value: device_id });
}
