/** What rang on this phone already, whoever's it is: the page and the worker do not ring one alarm twice. */
import { FRESH, openHome, openPhone } from "../store/db.ts";

const SAME_MS = 60_000;

/** Say whether an alarm rang here for its instant; where `claim` is set it has from now on. */
export async function rangHere(
  alarm_id: string,
  due_at: string | undefined,
  claim: boolean,
): Promise<boolean> {
  const due_ms = due_at ? Date.parse(due_at) : Date.now();
  const home = await openHome();
  const accounts = await home.getAll("accounts");
  home.close();
  let rang = false;
  for (const { device_id } of accounts) {
    const db = await openPhone(device_id);
    const tx = db.transaction("meta", "readwrite");
    const meta = { ...FRESH, ...(await tx.store.get("meta")), name: "meta" };
    if (due_ms <= (meta.rang[alarm_id] ?? Number.NEGATIVE_INFINITY) + SAME_MS) rang = true;
    else if (claim) await tx.store.put({ ...meta, rang: { ...meta.rang, [alarm_id]: due_ms } });
    await tx.done;
    db.close();
  }
  return rang;
}
