/** The list of those who share this phone, opened once; anew where the browser closed it, as when data are cleared. */
import { type HomeDb, openHome } from "./db.ts";

let opened: Promise<HomeDb> | null = null;

export function home(): Promise<HomeDb> {
  opened ??= openHome(() => {
    opened = null;
  });
  return opened;
}
