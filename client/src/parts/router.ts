/** Where a person is: the fragment of the address, `#/job/<id>`, split at its slashes. */
import { computed, signal } from "@preact/signals";

const read = () => location.hash.replace(/^#\/?/, "");
const address = signal(read());

export const route = computed<string[]>(() => address.value.split("/").map(decodeURIComponent));

/** How far down a person was when they left a place, to find it again on the way back. */
const depths = new Map<string, number>();

export const depthHere = () => depths.get(address.peek()) ?? 0;

addEventListener("hashchange", () => {
  depths.set(address.peek(), scrollY);
  address.value = read();
});

export const to = (...parts: string[]) => `#/${parts.map(encodeURIComponent).join("/")}`;

export function go(...parts: string[]): void {
  location.hash = to(...parts);
}

/** Go back to where the person came from, or to a place when the page was opened here. */
export function back(...otherwise: string[]): void {
  if (history.length > 1) history.back();
  else go(...otherwise);
}
