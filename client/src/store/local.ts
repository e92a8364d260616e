/** The copy that is open on this page, and how its changes reach the screens and the other tabs. */
import type { Action } from "../merge/state.ts";
import { Copy } from "./copy.ts";
import type { BlobRow } from "./db.ts";
import { nudgeSync } from "./hooks.ts";
import { setClockOffset } from "./now.ts";
import { signedIn } from "./session.ts";
import { setSyncState } from "./syncState.ts";
import { EMPTY, viewSignal } from "./viewSignal.ts";

/** What one tab tells the others. */
interface Told {
  device_id: string;
  numbers: number[];
  whole: boolean;
}

let open: Copy | null = null;
let channel: BroadcastChannel | null = null;

export const openCopy = (): Copy | null => open;

/** Open the copy of one device key in the place of the one that is open. */
export async function useCopy(device_id: string | null): Promise<void> {
  channel?.close();
  open?.close();
  open = device_id === null ? null : await Copy.open(device_id);
  channel = open === null ? null : listen(open);
  setClockOffset(open?.meta.clock_off_ms ?? 0);
  await countPhotos();
  publish();
}

function listen(copy: Copy): BroadcastChannel | null {
  if (typeof BroadcastChannel === "undefined") return null;
  const made = new BroadcastChannel(`tackwatch-${copy.device_id}`);
  made.onmessage = async (event: MessageEvent<Told>) => {
    if (copy !== open) return;
    if (event.data.whole) await copy.reload();
    else await copy.follow(event.data.numbers);
    setClockOffset(copy.meta.clock_off_ms);
    publish();
  };
  return made;
}

/** Show what is in memory now. */
export function publish(): void {
  viewSignal.value = open?.board.view() ?? EMPTY;
  setSyncState({ waiting: open?.board.waitingCount() ?? 0 });
}

/** Show a change here and in the other tabs. */
export function announce(numbers: number[], whole: boolean): void {
  if (open) channel?.postMessage({ device_id: open.device_id, numbers, whole } satisfies Told);
  publish();
}

/** Write one act of a person down as one operation; resolves when it is on the disk. */
export async function commit(act: string, actions: Action[], blobs: BlobRow[] = []): Promise<void> {
  signedIn();
  const copy = open as Copy;
  const row = await copy.commit(act, actions, blobs);
  announce([row.n], false);
  if (blobs.length > 0) await countPhotos();
  nudgeSync();
}

/** Lay a refused operation aside, or offer what it held again under a new number. */
export async function dealWith(n: number, how: "drop" | "again"): Promise<void> {
  signedIn();
  const copy = open as Copy;
  const refused = viewSignal.peek().refused.find((row) => row.n === n);
  if (refused === undefined) return;
  if (how === "again") await commit(refused.act, refused.actions as Action[]);
  await copy.dealWith(n);
  announce([n], false);
}

/** Count the pictures that are not on the server yet. */
export async function countPhotos(): Promise<void> {
  const waiting = await open?.db.countFromIndex("blobs", "status", "waiting");
  setSyncState({ photos_waiting: waiting ?? 0 });
}
