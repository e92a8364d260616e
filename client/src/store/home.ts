/** The list of those who share this phone, opened once. */
import { type HomeDb, openHome } from "./db.ts";

let opened: Promise<HomeDb> | null = null;

export function home(): Promise<HomeDb> {
  opened ??= openHome();
  return opened;
}
