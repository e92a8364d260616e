/** Starts everything behind the screens: whose copy is open first, then what the first look does not need. */
import { openAccounts } from "../store/accounts.ts";

const AGAIN_MS = 5_000;

/** Open this phone's copy; resolves as soon as the screens can show it. Exchange and ringing follow at once. */
export async function start(): Promise<void> {
  try {
    await openAccounts();
  } catch (error) {
    // Without a database of its own (some private windows) the page can still say so.
    console.error(error);
  }
  void startRest();
}

/** The rest is fetched after the first look; on a poor line it is asked for until it is here. */
async function startRest(): Promise<void> {
  try {
    (await import("./behind.ts")).startBehind();
  } catch (error) {
    console.warn(error);
    setTimeout(startRest, AGAIN_MS);
  }
}
