/**
 * When to ask for the plans without anybody waiting for them: so that the last one is on the phone when the signal goes.
 * After an exchange with the server, where it was not asked for some time; and when the server says that one changed.
 */
import { effect } from "@preact/signals";
import { me } from "../store/accounts.ts";
import { askPlans, plansKnownAt, readPlans } from "../store/plans.ts";
import { syncState } from "../store/syncState.ts";

const OFTEN_ENOUGH_MS = 10 * 60_000;

/** Failing costs nothing: the last plan stays, and the next exchange asks again. */
export const askPlansQuietly = (): Promise<void> => askPlans().catch(() => {});

export function startPlans(): void {
  effect(() => {
    const { last_at } = syncState.value;
    if (last_at === null || me.value === null || me.value.key_revoked) return;
    void askWhereOld(last_at);
  });
}

async function askWhereOld(exchanged_at: number): Promise<void> {
  await readPlans();
  const known_at = plansKnownAt.peek();
  const age_ms = exchanged_at - (known_at ?? 0);
  // A clock that was turned back makes an age that is none.
  if (known_at === null || age_ms > OFTEN_ENOUGH_MS || age_ms < 0) await askPlansQuietly();
}
