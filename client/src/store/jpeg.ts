/** What is in a JPEG beside the picture (ITU-T T.81, Annex B): a browser may write a head of its own into what it draws. */

const MARK = 0xff;
const SCAN = 0xda;
const FIRST_APP = 0xe0;
/** JFIF, a colour profile, and how colours are packed belong to the picture. */
const NEEDED: Record<number, string> = { 224: "JFIF\0", 226: "ICC_PROFILE\0", 238: "Adobe" };

/** The same picture with nothing beside it. Everything before the first scan is looked at; what follows is the picture. */
export function bare(jpeg: ArrayBuffer): ArrayBuffer {
  const all = new Uint8Array(jpeg);
  const out = new Uint8Array(all.length);
  let end = 0;
  const keep = (from: number, to: number): void => {
    const part = all.subarray(from, to);
    out.set(part, end);
    end += part.length;
  };
  keep(0, 2);
  let at = 2;
  while (at + 4 <= all.length && all[at] === MARK && all[at + 1] !== SCAN) {
    const next = at + 2 + (all[at + 2] as number) * 256 + (all[at + 3] as number);
    if (belongs(all, at)) keep(at, next);
    at = next;
  }
  keep(at, all.length);
  return out.buffer.slice(0, end);
}

function belongs(all: Uint8Array, at: number): boolean {
  const marker = all[at + 1] as number;
  if (marker < FIRST_APP) return true;
  const name = NEEDED[marker];
  return name !== undefined && name === textAt(all, at + 4, name.length);
}

export const textAt = (all: Uint8Array, at: number, length: number): string =>
  String.fromCharCode(...all.subarray(at, at + length));
