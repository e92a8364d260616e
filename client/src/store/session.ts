/** Whose copy is open on this page. */
import { ProblemError } from "./errors.ts";

export interface Account {
  device_id: string;
  key: string;
  refit_id: string;
  member_id: string;
  refit_name: string;
  member_name: string;
  role: "owner" | "hand" | "viewer";
  language: string;
  key_revoked: boolean;
}

let account: Account | null = null;

export function setAccount(next: Account | null): void {
  account = next;
}

export function currentAccount(): Account | null {
  return account;
}

/** The account in use, or an error where there is none. */
export function signedIn(): Account {
  if (account === null) {
    throw new ProblemError(401, { title: "Not signed in", detail: "Nobody is signed in here." });
  }
  return account;
}
