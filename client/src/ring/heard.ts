/** Whether a person has heard this phone ring: asked once on each phone, and kept on it. */
import { type ReadonlySignal, signal } from "@preact/signals";
import { home } from "../store/home.ts";

const NAME = "ring_heard_at";

/** When somebody heard it; null: never; undefined: not read from the disk yet. */
const at = signal<string | null | undefined>(undefined);

export const heardAt: ReadonlySignal<string | null | undefined> = at;

export async function readHeard(): Promise<void> {
  at.value = (await (await home()).get("settings", NAME))?.value ?? null;
}

/** A person says whether they heard the test. */
export async function setHeard(heard: boolean): Promise<void> {
  const value = heard ? new Date().toISOString() : null;
  await (await home()).put("settings", { name: NAME, value });
  at.value = value;
}
