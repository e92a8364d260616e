/**
 * Two values for one field: which one stays, and whether a person must be asked.
 *
 * For the present value (v, s) and an incoming (v', s') whose author saw the stamp `seen`:
 * - `seen == s`, or s is of the same device: v' stays, it was known; its stamp is lifted past s where needed;
 * - v == v': they agree, the greater stamp stays;
 * - else the greater stamp stays, and the other value is a difference.
 */
import { after, deviceOf, parse, write } from "./hlc.ts";
import { isObject } from "./refused.ts";
import type { Json, Valued } from "./state.ts";

export interface Verdict {
  stays: Valued;
  lost: Valued | null;
  /** The incoming version stands just as it was sent. */
  as_sent: boolean;
}

/** Say whether two JSON values are the same. */
export function same(one: Json, other: Json): boolean {
  if (Array.isArray(one) && Array.isArray(other)) {
    return one.length === other.length && one.every((part, n) => same(part, other[n] as Json));
  }
  if (isObject(one) && isObject(other)) {
    const names = Object.keys(one);
    if (names.length !== Object.keys(other).length) return false;
    return names.every(
      (name) => Object.hasOwn(other, name) && same(one[name] as Json, other[name] as Json),
    );
  }
  return one === other;
}

/** Decide between the present and an incoming version of one field. */
export function decide(present: Valued, incoming: Valued, seen: string | null): Verdict {
  const device = deviceOf(incoming.at);
  const wins = incoming.at > present.at;
  if (seen === present.at || deviceOf(present.at) === device) {
    if (wins) return { stays: incoming, lost: null, as_sent: true };
    const at = write(after(parse(present.at), device));
    return { stays: { value: incoming.value, at }, lost: null, as_sent: false };
  }
  const stays = wins ? incoming : present;
  if (same(present.value, incoming.value)) return { stays, lost: null, as_sent: wins };
  return { stays, lost: wins ? present : incoming, as_sent: false };
}
