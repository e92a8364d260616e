/** A signed-in phone with a small refit on it, for tests of what a person does. */
import { afterEach, beforeEach } from "node:test";
import { absorb } from "../../src/store/absorb.ts";
import { openCopy, publish, useCopy } from "../../src/store/local.ts";
import { setAccount } from "../../src/store/session.ts";
import { view } from "../../src/store/view.ts";
import { freshDisk } from "./phone.ts";
import { DEVICE, MEMBER, REFIT, Server } from "./server.ts";

/** Before each test a fresh phone is signed in and has the refit; after it the phone is put away. */
export function onStage(): void {
  beforeEach(async () => {
    freshDisk();
    setAccount({
      ...{ device_id: DEVICE, key: "k", refit_id: REFIT, member_id: MEMBER, role: "owner" },
      ...{ refit_name: "Heron", member_name: "Ines", language: "en", key_revoked: false },
    });
    await useCopy(DEVICE);
    const copy = openCopy();
    if (!copy) throw new Error("no copy");
    await absorb(copy, {
      ...{ epoch: "e", server_time: "", clock: null, acknowledged_n: 0, refused: [] },
      changes: [...new Server().filed.values()].map((one) => one.row),
      ...{ differences: [], cursor: 4, more: false, reset: false },
    });
    publish();
  });
  afterEach(async () => {
    await useCopy(null);
    setAccount(null);
  });
}

/** The operations that were written down, oldest first. */
export async function written() {
  return (await openCopy()?.db.getAll("operations")) ?? [];
}

export const row = (kind: string, id: string) => {
  const found = view.peek().item(kind, id);
  if (!found) throw new Error(`no ${kind} ${id}`);
  return found;
};
