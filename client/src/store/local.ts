/** The copy that is open on this page, and how its changes reach the screens and the other tabs. */
import type { Action } from "../merge/state.ts";
import { type Line, openLine, type Told } from "./channel.ts";
import { Copy } from "./copy.ts";
import type { BlobRow } from "./db.ts";
import { nudgeSync } from "./hooks.ts";
import { setClockOffset } from "./now.ts";
import { isClosed, putBack } from "./rescue.ts";
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
  open = device_id === null ? null : await openAt(device_id);
  line = open === null ? null : openLine(open.device_id, (told) => void follow(told));
  setClockOffset(open?.meta.clock_off_ms ?? 0);
  await countPhotos();
  setSyncState({ full: false });
  publish();
}

const openAt = (device_id: string): Promise<Copy> =>
  Copy.open(device_id, Date.now, () => void openAgain(device_id).catch(() => {}));

/** The database was closed under our hands: open it again, with what is in memory where the disk was wiped. */
async function openAgain(device_id: string): Promise<void> {
  const lost = open;
  if (lost?.device_id !== device_id) return;
  const fresh = await openAt(device_id);
  await putBack(lost, fresh);
  if (open !== lost) return fresh.close();
  open = fresh;
  await countPhotos();
  publish();
  nudgeSync();
}

async function follow({ numbers, whole }: Told): Promise<void> {
  const copy = open;
  if (copy === null) return;
  try {
    if (whole) await copy.reload();
    else await copy.follow(numbers);
  } catch (error) {
    // Closed by a change of person or of version: what is opened then is read whole.
    if (copy !== open || isClosed(error)) return;
    throw error;
  }
  setClockOffset(copy.meta.clock_off_ms);
  await countPhotos();
  publish();
}

/** Look at the disk: what another tab or the worker wrote while this one slept, nobody told it. */
export async function catchUp(): Promise<void> {
  const copy = open;
  const meta = await copy?.readMeta().catch(() => null);
  if (!copy || !meta) return;
  if (meta.version === copy.meta.version && meta.next_n === copy.meta.next_n) return;
  await follow({ numbers: [], whole: true });
}

/** Show what is in memory now. */
export function publish(): void {
  viewSignal.value = open?.board.view() ?? EMPTY;
  setSyncState({
    waiting: open?.board.waitingCount() ?? 0,
    met: open !== null && open.meta.cursor > 0,
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
  const { device_id } = signedIn();
  const write = () => roomy((copy) => copy.commit(act, actions, blobs));
  const row = await write().catch(async (error: unknown) => {
    if (!isClosed(error)) throw error;
    await openAgain(device_id);
    return write();
  });
  announce([row.n], false);
  if (blobs.length > 0) await countPhotos();
  nudgeSync();
  void askToKeep();
}

/** Do some writing with room for it, and say so where there is none. */
async function roomy<T>(work: (copy: Copy) => Promise<T>): Promise<T> {
  const copy = open as Copy;
  try {
    const made = await withRoom(copy, () => work(copy));
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
  const refused = viewSignal.peek().refused.find((row) => row.n === n);
  if (refused === undefined) return;
  if (how === "again") await commit(refused.act, refused.actions as Action[]);
  await roomy((copy) => copy.dealWith(n));
  announce([n], false);
}

/** Count the pictures that are not on the server yet. */
export async function countPhotos(): Promise<void> {
  try {
    const waiting = await open?.db.countFromIndex("blobs", "status", "waiting");
    setSyncState({ photos_waiting: waiting ?? 0 });
  } catch (error) {
    // It is counted again when the copy is open again; what was written is on the disk, and must not be called failed.
    if (!isClosed(error)) throw error;
  }
}

/** Count how much of a refit that comes for the first time is here, where the server told how much there is. */
export async function countComing(): Promise<void> {
  const copy = open;
  const parts = copy?.meta.aside?.snapshot?.pages ?? 0;
  const parts_here = parts > 0 ? await copy?.db.count("blocks").catch(() => 0) : 0;
  setSyncState({ parts, parts_here: parts_here ?? 0 });
}
