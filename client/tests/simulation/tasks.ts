/**
 * The turns in which the simulated phones' disks work: one queue in the place of the machine's own, so that the same
 * story runs in the same order every time, and so that a phone can die between any two turns.
 *
 * Import this before fake-indexeddb: its work is queued by `setImmediate`.
 */
const real = globalThis.setImmediate;
const queue: (() => void)[] = [];

globalThis.setImmediate = ((task: (...given: unknown[]) => void, ...given: unknown[]) => {
  queue.push(() => task(...given));
}) as unknown as typeof setImmediate;

/** Let all promises that can go on do so. */
export const breathe = (): Promise<void> => new Promise((resolve) => real(() => resolve()));

/** Work until nothing is left, or for `most` turns; answers how many there were. */
export async function work(most = Number.POSITIVE_INFINITY): Promise<number> {
  await breathe();
  let done = 0;
  while (done < most) {
    const task = queue.shift();
    if (task === undefined) break;
    task();
    done += 1;
    await breathe();
  }
  return done;
}

/** Forget what was to come. */
export function drop(): void {
  queue.length = 0;
}
