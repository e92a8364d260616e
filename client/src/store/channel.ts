/**
 * How the tabs of one phone, and its worker, tell each other what they wrote.
 *
 * A browser without BroadcastChannel passes it on through its local storage, whose changes the other tabs hear. What
 * was said while a tab slept is not said again: it looks at the disk when it comes back into sight.
 */

/** What one tab tells the others: operations that stand otherwise, or that the rows changed. */
export interface Told {
  numbers: number[];
  whole: boolean;
}

export interface Line {
  tell(told: Told): void;
  close(): void;
}

const nameOf = (device_id: string): string => `tackwatch-${device_id}`;

/** Open the line between the tabs that show the copy of one device key. */
export function openLine(device_id: string, heard: (told: Told) => void): Line {
  const name = nameOf(device_id);
  return typeof BroadcastChannel === "undefined" ? byStorage(name, heard) : byChannel(name, heard);
}

function byChannel(name: string, heard: (told: Told) => void): Line {
  const channel = new BroadcastChannel(name);
  channel.onmessage = ({ data }: MessageEvent<Told>) => heard(data);
  return { tell: (told) => channel.postMessage(told), close: () => channel.close() };
}

/** The count makes each text another one: the same text twice is no change. */
let count = 0;

function byStorage(name: string, heard: (told: Told) => void): Line {
  if (typeof localStorage === "undefined") return { tell: () => {}, close: () => {} };
  const hear = ({ key, newValue }: StorageEvent): void => {
    if (key === name && newValue) heard(JSON.parse(newValue) as Told);
  };
  addEventListener("storage", hear);
  return {
    tell(told) {
      try {
        localStorage.setItem(name, JSON.stringify({ ...told, count: ++count, at: Date.now() }));
      } catch {
        // Full or forbidden: the other tabs look for themselves when they come into sight.
      }
    },
    close: () => removeEventListener("storage", hear),
  };
}
