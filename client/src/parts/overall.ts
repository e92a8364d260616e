/** What stands across the whole screen when it is here: it comes after the first look, with the ringing. */
import { signal } from "@preact/signals";
import type { ComponentType } from "preact";

export const overall = signal<ComponentType | null>(null);
