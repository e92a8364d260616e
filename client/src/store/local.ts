/** This phone's own copy: what is written down here counts at once, whatever the network does. */
import type { Action } from "../merge/state.ts";

/** Write one act of a person down as one operation; resolves when it is on the disk. */
export async function commit(act: string, actions: Action[]): Promise<void> {
  void act;
  void actions;
}

/** Lay a refused operation aside, or offer what it held again under a new number. */
export async function dealWith(n: number, how: "drop" | "again"): Promise<void> {
  void n;
  void how;
}
