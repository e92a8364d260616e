/**
 * Room on this phone, and what goes first when it runs short.
 *
 * - Pictures that the server has go first, the oldest before the others, then those that were fetched to be looked at.
 *   Both come back when they are looked at with a signal.
 * - What is not on the server never goes: an entry that finds no room is refused, and its text stays on the screen.
 * - A browser that has not promised to keep the data may throw all of it away when the phone runs full; so it is asked.
 */
import { type ReadonlySignal, signal } from "@preact/signals";
import type { Copy } from "./copy.ts";
import { ProblemError } from "./errors.ts";
import { dropSent, sentPhotosOldestFirst } from "./sentphotos.ts";

/** What the browser says of this phone's room; null where it says nothing. */
export interface Room {
  used_b: number | null;
  left_b: number | null;
  /** Whether the browser promised to keep what is here. */
  kept: boolean | null;
}

const found = signal<Room>({ used_b: null, left_b: null, kept: null });

export const room: ReadonlySignal<Room> = found;

/** With less than this left, sent pictures go before an entry finds no room. */
export const SHORT_B = 20_000_000;

/** So much goes at once: a picture has some 300 kB. */
const STEP_B = 3_000_000;

const storage = (): StorageManager | undefined => globalThis.navigator?.storage;

/** Ask the browser how much is used and left, and whether it will be kept. */
export async function lookAtRoom(): Promise<Room> {
  const asked = await Promise.all([
    storage()
      ?.estimate?.()
      .catch(() => null),
    storage()
      ?.persisted?.()
      .catch(() => null),
  ]);
  const { usage, quota } = asked[0] ?? {};
  const used_b = usage ?? null;
  const left_b = usage === undefined || quota === undefined ? null : Math.max(0, quota - usage);
  found.value = { used_b, left_b, kept: asked[1] ?? null };
  return found.peek();
}

let asked = false;

/** Ask the browser to keep what is here; unasked for, once for each visit, since some browsers ask the person. */
export async function askToKeep(by_a_person = false): Promise<void> {
  if (asked && !by_a_person) return;
  asked = true;
  if (
    !(await storage()
      ?.persisted?.()
      .catch(() => false))
  ) {
    await storage()
      ?.persist?.()
      .catch(() => false);
  }
  await lookAtRoom();
}

/** Whether a write failed because there is no room. */
export function isFull(error: unknown): boolean {
  return error instanceof Error && error.name === "QuotaExceededError";
}

/** The phone is full of what is needed: the entry was not written. */
export class PhoneFullError extends ProblemError {
  constructor() {
    super(507, { type: "urn:tackwatch:problem:phone-full", title: "This phone is full" });
    this.name = "PhoneFullError";
  }
}

/** A browser takes a moment until room that was freed counts: so often, and so far apart, is it tried again. */
const MOST_TRIES = 8;
const RECOUNT_MS = 700;
const pause = (wait_ms: number): Promise<void> =>
  new Promise((resolve) => {
    setTimeout(resolve, wait_ms);
  });

/** Do some writing; where there is no room, let pictures go and do it again. Throws PhoneFullError when none is left. */
export async function withRoom<T>(copy: Copy, work: () => Promise<T>): Promise<T> {
  let freed_b = 0;
  for (let tries = 1; ; tries++) {
    try {
      return await work();
    } catch (error) {
      if (!isFull(error)) throw error;
      freed_b += await makeRoom(copy, STEP_B);
      if (freed_b === 0 || tries === MOST_TRIES) throw new PhoneFullError();
      if (tries > 1) await pause(RECOUNT_MS);
    }
  }
}

/** Let pictures go that can be had again, at least so many bytes of them; answers how many bytes went. */
export async function makeRoom(copy: Copy, wanted_b: number): Promise<number> {
  const found = await sentPhotosOldestFirst(copy);
  const own_first = (["sent", "fetched"] as const).flatMap((status) =>
    found.filter((one) => one.status === status),
  );
  let freed_b = 0;
  for (const { sha256 } of own_first) {
    if (freed_b >= wanted_b) break;
    freed_b += await dropSent(copy, [sha256]);
  }
  return freed_b;
}

/** Make room before it is needed, where little is left. */
export async function keepSomeRoom(copy: Copy): Promise<void> {
  const { left_b } = await lookAtRoom();
  if (left_b !== null && left_b < SHORT_B) await makeRoom(copy, SHORT_B - left_b);
}
