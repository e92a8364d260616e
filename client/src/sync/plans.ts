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

export function startPlans(): () => void {
  let exchanged_at: number | null = null;
  return effect(() => {
    const { last_at } = syncState.value;
    if (last_at === exchanged_at) return;
    exchanged_at = last_at;
    if (last_at === null || me.value === null || me.value.key_revoked) return;
    void askWhereOld(last_at);
  });
}

async function askWhereOld(exchanged_at: number): Promise<void> {
  await readPlans();
  const known_at = plansKnownAt.peek();
  // An age below zero: the clock was turned back.
  const is_old = known_at === null || Math.abs(exchanged_at - known_at) > OFTEN_ENOUGH_MS;
  if (is_old) await askPlansQuietly();
}
