/** Who uses this phone, and for which refit. */
import { type ReadonlySignal, signal } from "@preact/signals";
import type { AccountRow, Me, RefitBody } from "./types.ts";

const current = signal<Me | null>(null);
const known = signal<AccountRow[]>([]);

/** Null while nobody is signed in on this phone. */
export const me: ReadonlySignal<Me | null> = current;

/** Everybody who shares this phone. */
export const accounts: ReadonlySignal<AccountRow[]> = known;

export async function switchAccount(device_id: string): Promise<void> {
  void device_id;
}

/** Make a refit; the recovery code is shown once and is the owner's to keep. */
export async function createRefit(body: RefitBody): Promise<{ recovery_code: string }> {
  void body;
  return { recovery_code: "" };
}

/** Come on board with an invitation. */
export async function join(token: string, device_name: string): Promise<void> {
  void token;
  void device_name;
}

/** Get back in with the recovery code. */
export async function recover(refit_id: string, code: string, device_name: string): Promise<void> {
  void refit_id;
  void code;
  void device_name;
}
