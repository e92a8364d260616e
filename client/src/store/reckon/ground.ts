/**
 * What a zone is made of where nothing that was logged lies on it: the twin of the server's `reckoning.ground`.
 *
 * - A zone without a ground of its own has that of the nearest zone around it that says one.
 * - What was laid on a zone lies on every part of it too; what was laid on a part says nothing about the whole.
 * - Nobody prepared a ground until a step did: it is met cured and untouched, waxed polyester with its wax on.
 */
import { GROUNDS, type Ground } from "../../clocks/compatibility_table.ts";
import type { Surface } from "../../clocks/job_order.ts";
import type { View } from "../types.ts";

/** A zone and those that it is part of, itself first; zones in a circle each once. */
export function zonesAround(rows: View, zone_id: string | null): string[] {
  const found: string[] = [];
  for (let id = zone_id; id && !found.includes(id); ) {
    found.push(id);
    id = (rows.item("zone", id)?.fields.parent_id as string | null | undefined) ?? null;
  }
  return found;
}

/** The ground of a zone as nobody prepared it yet; null where no zone around says one. */
export function groundOf(rows: View, zone_id: string | null): Surface | null {
  const said = zonesAround(rows, zone_id).map((id) => rows.item("zone", id)?.fields.ground);
  const ground = said.flatMap((one) => GROUNDS.find((known) => known === one) ?? [])[0];
  return ground === undefined ? null : untouched(ground);
}

/** A ground that nobody prepared. */
export const untouched = (under: Ground): Surface => ({
  ...{ under, state: under === "polyester_waxed" ? "waxed" : "glossy" },
  ...{ beneath: [], fresh: false },
});
