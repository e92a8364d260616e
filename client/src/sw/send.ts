/**
 * Sending what waits while no page is in sight: the page's own exchange, under the same lock and the same keys.
 *
 * Nothing rings here. What others changed lies on the disk for the page that is opened next.
 */
import { type HomeDb, openHome } from "../store/db.ts";
import { turnsOf } from "../sync/turn.ts";

/** Take the turn of everybody on this phone who has something waiting. Throws where something still waits afterwards. */
export async function sendWhatWaits(): Promise<void> {
  const home = await openHome();
  try {
    let left = 0;
    for (const [account, ending] of await turnsOf(await home.getAll("accounts"))) {
      if (ending.kind === "revoked") await markRevoked(home, account.device_id);
      if (ending.kind === "later") left++;
    }
    if (left > 0) throw new Error(`${left} could not send; the browser tries again.`);
  } finally {
    home.close();
  }
}

async function markRevoked(home: HomeDb, device_id: string): Promise<void> {
  const tx = home.transaction("accounts", "readwrite");
  const row = await tx.store.get(device_id);
  if (row) await tx.store.put({ ...row, key_revoked: true });
  await tx.done;
}
