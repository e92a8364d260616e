/** The copy that is open on this page, and how its changes reach the screens and the other tabs. */
import type { Action } from "../merge/state.ts";
import { type Line, openLine, type Told } from "./channel.ts";
import { Copy } from "./copy.ts";
import type { BlobRow } from "./db.ts";
import { nudgeSync } from "./hooks.ts";
import { setClockOffset } from "./now.ts";
import { askToKeep, PhoneFullError, withRoom } from "./room.ts";
import { signedIn } from "./session.ts";
import { setSyncState } from "./syncState.ts";
import { EMPTY, viewSignal } from "./viewSignal.ts";

let open: Copy | null = null;
let line: Line | null = null;

export const openCopy = (): Copy | null => open;

/** Open the copy of one device key in the place of the one that is open. */
export async function useCopy(device_id: string | null): Promise<void> {
  line?.close();
  open?.close();
  open = device_id === null ? null : await Copy.open(device_id);
  const copy = open;
  line = copy === null ? null : openLine(copy.device_id, (told) => void follow(copy, told));
  setClockOffset(open?.meta.clock_off_ms ?? 0);
  await countPhotos();
  setSyncState({ full: false });
  publish();
}

async function follow(copy: Copy, { numbers, whole }: Told): Promise<void> {
  if (copy !== open) return;
  try {
    if (whole) await copy.reload();
    else await copy.follow(numbers);
  } catch (error) {
    // Closed under our hands, by a change of person or of version.
    if (copy !== open) return;
    throw error;
  }
  setClockOffset(copy.meta.clock_off_ms);
  await countPhotos();
  publish();
}

/** Look at the disk: what another tab or the worker wrote while this one slept, nobody told it. */
export async function catchUp(): Promise<void> {
  const copy = open;
  if (copy === null) return;
  const { version, next_n } = await copy.readMeta();
  if (version === copy.meta.version && next_n === copy.meta.next_n) return;
  await follow(copy, { numbers: [], whole: true });
}

/** Show what is in memory now. */
export function publish(): void {
  viewSignal.value = open?.board.view() ?? EMPTY;
  setSyncState({
    waiting: open?.board.waitingCount() ?? 0,
    met: open !== null && open.meta.epoch !== null,
    entries: open?.board.baseCount() ?? 0,
  });
}

/** Show a change here and in the other tabs. */
export function announce(numbers: number[], whole: boolean): void {
  line?.tell({ numbers, whole });
  publish();
}

/**
 * Write one act of a person down as one operation; resolves when it is on the disk.
 *
 * Throws PhoneFullError, and writes nothing, where there is no room even after pictures were let go.
 */
export async function commit(act: string, actions: Action[], blobs: BlobRow[] = []): Promise<void> {
  signedIn();
  const copy = open as Copy;
  const row = await roomy(copy, () => copy.commit(act, actions, blobs));
  announce([row.n], false);
  if (blobs.length > 0) await countPhotos();
  nudgeSync();
  void askToKeep();
}

/** Do some writing with room for it, and say so where there is none. */
async function roomy<T>(copy: Copy, work: () => Promise<T>): Promise<T> {
  try {
    const made = await withRoom(copy, work);
    setSyncState({ full: false });
    return made;
  } catch (error) {
    if (error instanceof PhoneFullError) setSyncState({ full: true });
    throw error;
  }
}

/** Lay a refused operation aside, or offer what it held again under a new number. */
export async function dealWith(n: number, how: "drop" | "again"): Promise<void> {
  signedIn();
  const copy = open as Copy;
  const refused = viewSignal.peek().refused.find((row) => row.n === n);
  if (refused === undefined) return;
  if (how === "again") await commit(refused.act, refused.actions as Action[]);
  await roomy(copy, () => copy.dealWith(n));
  announce([n], false);
}

/** Count the pictures that are not on the server yet. */
export async function countPhotos(): Promise<void> {
  const waiting = await open?.db.countFromIndex("blobs", "status", "waiting");
  setSyncState({ photos_waiting: waiting ?? 0 });
}
