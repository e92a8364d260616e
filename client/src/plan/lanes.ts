/**
 * Which lane of its row each bar lies in: bars that would lie over one another, with the room that a finger in a glove
 * needs, lie below one another.
 */

/** From where to where something reaches. */
export interface Reach {
  from: number;
  to: number;
}

/** Put each in the first lane that is free there, in order of where they begin; answers the lane of each. */
export function lanesOf(reaches: readonly Reach[]): { lane: number[]; count: number } {
  const order = reaches.map((_, n) => n).sort((a, b) => at(reaches, a) - at(reaches, b) || a - b);
  const ends: number[] = [];
  const lane = new Array<number>(reaches.length).fill(0);
  for (const n of order) {
    const { from, to } = reaches[n] as Reach;
    const found = ends.findIndex((end) => end <= from);
    const here = found < 0 ? ends.length : found;
    ends[here] = to;
    lane[n] = here;
  }
  return { lane, count: Math.max(1, ends.length) };
}

const at = (reaches: readonly Reach[], n: number): number => reaches[n]?.from ?? 0;

/** How far each can write before the next one in its lane begins; `none` where there is no next one. */
export function roomOf(reaches: readonly Reach[], lane: readonly number[], none: number): number[] {
  const next = new Map<number, number>();
  const room = new Array<number>(reaches.length).fill(none);
  const order = reaches.map((_, n) => n).sort((a, b) => at(reaches, b) - at(reaches, a) || b - a);
  for (const n of order) {
    const here = lane[n] ?? 0;
    room[n] = next.get(here) ?? none;
    next.set(here, at(reaches, n));
  }
  return room;
}
