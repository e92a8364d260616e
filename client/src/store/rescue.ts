/**
 * A page that is open while the browser's data are cleared still has in its memory what is gone from the disk: the key,
 * and what was written and not sent. Both are put back. The refit itself comes again with the next exchange.
 */
import type { Copy } from "./copy.ts";
import { FRESH, wholly } from "./db.ts";
import { home } from "./home.ts";
import { currentAccount } from "./session.ts";

/** Whether a write failed because the database was closed under our hands. */
export const isClosed = (error: unknown): boolean =>
  error instanceof Error && error.name === "InvalidStateError";

/** Put what `lost` has in memory into the empty copy that stands in its place; one that is not empty is left alone. */
export async function putBack(lost: Copy, fresh: Copy): Promise<void> {
  if (fresh.meta.next_n > 1 || fresh.meta.version > 0) return;
  await keepKey(lost.device_id);
  const { epoch, next_n, last_stamp, clock_off_ms } = lost.meta;
  const tx = fresh.db.transaction(["operations", "meta"], "readwrite");
  await wholly(tx, async () => {
    const meta = { ...FRESH, epoch, next_n, last_stamp, clock_off_ms, name: "meta" };
    await tx.objectStore("meta").put(meta);
    for (const row of lost.board.unsettled()) await tx.objectStore("operations").put(row);
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
