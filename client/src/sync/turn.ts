/**
 * One turn at the server for one person of this phone, under this person's own key: words, then pictures.
 *
 * - Pages and the worker take turns by one lock for each key. It saves the line, no more: an answer that was overtaken is
 *   dropped, so one that waits too long for a tab that sleeps with the lock goes on without it.
 * - What waits for the others who share the phone goes out too, each person's under their own key and from their own
 *   copy, without a row of it being shown.
 */
import { letGo } from "../store/absorb.ts";
import { openLine } from "../store/channel.ts";
import { Copy } from "../store/copy.ts";
import { waitingOf } from "../store/others.ts";
import { keepSomeRoom, PhoneFullError, withRoom } from "../store/room.ts";
import type { Account } from "../store/session.ts";
import { type Ending, exchange } from "./exchange.ts";
import { sendPhotos } from "./photos.ts";
import type { Ports } from "./round.ts";

/** So long a tab is waited for. A round trip is given up after half of it. */
export const LONGEST_HELD_MS = 60_000;

/** As an exchange ends, or: there is no room on this phone for what came. */
export type TurnEnding = Ending | { kind: "full" };

export interface Hooks {
  /** Operations stand otherwise now, or rows changed. */
  taken: (numbers: number[], whole: boolean) => void;
  /** The words are through; the pictures follow. */
  worded?: () => Promise<void>;
}

/** Do one turn; never throws. */
export function turn(copy: Copy, account: Account, hooks: Hooks): Promise<TurnEnding> {
  return locked(`tackwatch-sync-${account.device_id}`, () => once(copy, account, hooks));
}

async function once(copy: Copy, { key, refit_id }: Account, hooks: Hooks): Promise<TurnEnding> {
  const ports: Ports = { fetch: (...call) => fetch(...call), now: Date.now, key, refit_id };
  try {
    const ending = await withRoom(copy, () => exchange(copy, ports, hooks.taken));
    if (ending.kind !== "done") return ending;
    await hooks.worded?.();
    await letGo(copy);
    const photos = await sendPhotos(copy, ports);
    await keepSomeRoom(copy);
    // A picture that could not be sent waits for the next turn; the words are through.
    return photos === "revoked" ? { kind: "revoked" } : ending;
  } catch (error) {
    if (error instanceof PhoneFullError) return { kind: "full" };
    // The copy was closed under our hands: nothing was lost, try again later.
    return { kind: "later", offline: false, wait_ms: 0 };
  }
}

/** Only one page or worker of a phone does some work at a time, as far as it can be helped. */
async function locked<T>(name: string, work: () => Promise<T>): Promise<T> {
  const locks = globalThis.navigator?.locks;
  if (!locks) return work();
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), LONGEST_HELD_MS);
  let begun: Promise<T> | undefined;
  const begin = (): Promise<T> => {
    clearTimeout(timer);
    begun = work();
    return begun;
  };
  try {
    return (await locks.request(name, { signal: patience.signal }, begin)) as T;
  } catch {
    return begun ?? begin();
  }
}

/** Take the turns of those people of this phone who have something waiting. Answers how each ended. */
export async function turnsOf(accounts: Account[]): Promise<Map<Account, TurnEnding>> {
  const endings = new Map<Account, TurnEnding>();
  for (const account of accounts) {
    if (account.key_revoked || !(await hasSomething(account.device_id))) continue;
    endings.set(account, await turnAside(account));
  }
  return endings;
}

/** One turn on a copy that no screen of this page shows; the tabs that show it are told. */
async function turnAside(account: Account): Promise<TurnEnding> {
  const copy = await Copy.open(account.device_id);
  const line = openLine(account.device_id, () => {});
  try {
    const taken = (numbers: number[], whole: boolean): void => line.tell({ numbers, whole });
    return await turn(copy, account, { taken });
  } finally {
    line.close();
    copy.close();
  }
}

async function hasSomething(device_id: string): Promise<boolean> {
  const { words, pictures } = await waitingOf(device_id);
  return words + pictures > 0;
}
