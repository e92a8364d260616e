/** The launch comes near, and nobody takes a reading: the twin of the server's `reckoning.refit_warnings`. */
import { STALE_AFTER_S } from "../../clocks/cure.ts";
import { isoOf } from "../../clocks/instants.ts";
import type { Warning } from "../../clocks/warnings.ts";
import type { ItemRow } from "../types.ts";
import { offsetS } from "../zones.ts";

const COUNTED_DAYS = [7, 3, 1];
const DAY_MS = 86_400_000;
const LEANS_ON_READINGS = new Set(["recoat_open", "recoat_closing", "recoat_missed", "sandable"]);

/** When a field was written, by its stamp. */
export const writtenAt = (row: ItemRow, name: string): number =>
  Number.parseInt((row.stamps[name] ?? row.at).slice(0, 12), 16);

/** The countdown to the launch: each until the next; one that had passed when it was booked is not told. */
export function launchWarnings(refit: ItemRow): Warning[] {
  const launch_at = Date.parse(String(refit.fields.launch_at ?? ""));
  if (Number.isNaN(launch_at)) return [];
  const zone = String(refit.fields.time_zone);
  const told = [...COUNTED_DAYS.map((days) => daysBefore(launch_at, days, zone)), launch_at];
  const booked_at = writtenAt(refit, "launch_at");
  return COUNTED_DAYS.flatMap((days, n) => {
    const due_at = told[n] as number;
    if (booked_at > due_at) return [];
    return {
      id: `${refit.id}.launch_countdown_${days}`,
      kind: "launch_countdown" as const,
      source_id: refit.id,
      due_at,
      useless_after: told[n + 1] as number,
      params: { launch_at: isoOf(launch_at), days: String(days) },
    };
  });
}

/** A coat's start, and the warnings of it that a person gets. */
export type CoatOf = readonly [start_at: number, warnings: readonly Warning[]];

/** A reading is wanted: six hours after the last, or after the coat began, where it still opens or closes after that. */
export function staleWarning(
  refit: ItemRow,
  last_at: number | null,
  coats: readonly CoatOf[],
): Warning | null {
  const found = coats.flatMap(([start_at, warnings]) => {
    const stale_at = Math.max(start_at, last_at ?? start_at) + STALE_AFTER_S * 1000;
    const ends = warnings.filter((one) => LEANS_ON_READINGS.has(one.kind)).map((w) => w.due_at);
    const until = Math.max(...ends);
    return until > stale_at ? [{ stale_at, until }] : [];
  });
  if (found.length === 0) return null;
  return {
    id: `${refit.id}.reading_stale`,
    kind: "reading_stale",
    source_id: refit.id,
    due_at: Math.min(...found.map((one) => one.stale_at)),
    useless_after: Math.max(...found.map((one) => one.until)),
    params: last_at === null ? {} : { measured_at: isoOf(last_at) },
  };
}

/** The same time of day so many days earlier. */
function daysBefore(at: number, days: number, zone: string): number {
  const back = at - days * DAY_MS;
  return back + 1000 * (offsetS(zone, at) - offsetS(zone, back));
}
