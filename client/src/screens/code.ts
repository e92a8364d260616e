/** The recovery code of a refit that was just made: kept in sight until the owner has written it down. */
import { signal } from "@preact/signals";

const KEY = "recovery_code";

/** Null when there is none to show. Survives that the phone throws the page out of its memory. */
export const codeToShow = signal<string | null>(sessionStorage.getItem(KEY));

export function showCode(code: string): void {
  sessionStorage.setItem(KEY, code);
  codeToShow.value = code;
}

export function codeWrittenDown(): void {
  sessionStorage.removeItem(KEY);
  codeToShow.value = null;
}
