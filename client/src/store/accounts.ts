/** Who uses this phone, and for which refit. */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { home } from "./home.ts";
import { nudgeSync } from "./hooks.ts";
import { open } from "./http.ts";
import { useCopy } from "./local.ts";
import { askToKeep } from "./room.ts";
import { type Account, setAccount } from "./session.ts";
import type { AccountRow, Me, RefitBody } from "./types.ts";
import { viewSignal } from "./viewSignal.ts";

const current = signal<Account | null>(null);
const known = signal<Account[]>([]);
const loaded = signal(false);

/** False until it is known who is signed in on this phone. */
export const ready: ReadonlySignal<boolean> = loaded;

const CURRENT = "current";

/** Null while nobody is signed in on this phone. */
export const me: ReadonlySignal<Me | null> = computed(() => {
  const account = current.value;
  if (account === null) return null;
  const { refit_id, member_id, device_id, key_revoked } = account;
  const row = viewSignal.value.item("member", member_id);
  const role = (row?.fields.role as Me["role"] | undefined) ?? account.role;
  const language = (row?.fields.language as string | undefined) ?? account.language;
  return { refit_id, member_id, device_id, role, language, key_revoked };
});

/** Everybody who shares this phone. */
export const accounts: ReadonlySignal<AccountRow[]> = computed(() =>
  known.value.map(({ device_id, refit_name, member_name }) => ({
    device_id,
    refit_name,
    member_name,
  })),
);

/** Those who share this phone and are not in front of it now, with their keys. */
export const othersHere = (): Account[] =>
  known.peek().filter((row) => row.device_id !== current.peek()?.device_id);

/** Open the copy of whoever used this phone last. */
export async function openAccounts(): Promise<void> {
  const db = await home();
  known.value = await db.getAll("accounts");
  const device_id = (await db.get("settings", CURRENT))?.value ?? null;
  await enter(known.value.find((row) => row.device_id === device_id) ?? null);
  loaded.value = true;
}

async function enter(account: Account | null): Promise<void> {
  setAccount(account);
  await useCopy(account?.device_id ?? null);
  current.value = account;
}

export async function switchAccount(device_id: string): Promise<void> {
  const account = known.peek().find((row) => row.device_id === device_id);
  if (account === undefined) return;
  await (await home()).put("settings", { name: CURRENT, value: device_id });
  await enter(account);
  nudgeSync();
}

interface Key {
  refit_id: string;
  member_id: string;
  device_id: string;
  key: string;
}

/** Keep a key that the server gave, and go on under it. */
async function signIn(given: Key, words: Partial<Account>): Promise<void> {
  const { refit_id, member_id, device_id, key } = given;
  const account: Account = {
    ...{ refit_name: "", member_name: "", role: "viewer", language: "en", key_revoked: false },
    ...words,
    ...{ refit_id, member_id, device_id, key },
  };
  await keep(account);
  await (await home()).put("settings", { name: CURRENT, value: device_id });
  await enter(account);
  nudgeSync();
  void askToKeep();
}

async function keep(account: Account): Promise<void> {
  const db = await home();
  await db.put("accounts", account);
  known.value = await db.getAll("accounts");
}

/** Make a refit; the recovery code is shown once and is the owner's to keep. */
export async function createRefit(body: RefitBody): Promise<{ recovery_code: string }> {
  const given = await open<Key & { recovery_code: string }>("POST", "/api/refits", body);
  const { name: refit_name, owner_name: member_name, language } = body;
  await signIn(given, { refit_name, member_name, language, role: "owner" });
  return { recovery_code: given.recovery_code };
}

/** Come on board with an invitation. */
export async function join(token: string, device_name: string): Promise<void> {
  await signIn(await open<Key>("POST", "/api/invites/claim", { token, device_name }), {});
}

/** Get back in with the recovery code. */
export async function recover(refit_id: string, code: string, device_name: string): Promise<void> {
  const path = `/api/refits/${encodeURIComponent(refit_id)}/recover`;
  await signIn(await open<Key>("POST", path, { code, device_name }), { role: "owner" });
}

/** The server does not know this key any more: keep everything, send nothing. */
export async function markRevoked(device_id: string): Promise<void> {
  await amend(device_id, { key_revoked: true });
}

/** Remember the names and the role as the refit has them now, for the list of those who share this phone. */
export async function rememberNames(): Promise<void> {
  const account = current.peek();
  if (account === null) return;
  const rows = viewSignal.peek();
  const member = rows.item("member", account.member_id);
  const refit = rows.items("refit")[0];
  if (member === undefined || refit === undefined) return;
  const { name, role } = member.fields as { name: string; role: Me["role"] };
  const language = rows.field<string>(member, "language");
  await amend(account.device_id, {
    ...{ refit_name: refit.fields.name as string, member_name: name, role, language },
  });
}

async function amend(device_id: string, change: Partial<Account>): Promise<void> {
  const account = known.peek().find((row) => row.device_id === device_id);
  if (account === undefined) return;
  const same = Object.entries(change).every(
    ([name, value]) => Reflect.get(account, name) === value,
  );
  if (same) return;
  const next = { ...account, ...change };
  await keep(next);
  if (current.peek()?.device_id !== device_id) return;
  setAccount(next);
  current.value = next;
}
