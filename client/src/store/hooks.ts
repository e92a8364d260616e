/** Where the sync, which builds on the store, tells the store what to call. */

let sync: () => Promise<void> = async () => {};
let nudge: () => void = () => {};

export function setHooks(hooks: { sync: () => Promise<void>; nudge: () => void }): void {
  sync = hooks.sync;
  nudge = hooks.nudge;
}

/** One exchange with the server, now. */
export const runSync = (): Promise<void> => sync();

/** Something was written: exchange soon. */
export const nudgeSync = (): void => nudge();
