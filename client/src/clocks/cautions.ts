/**
 * Which cautions belong beside a class of product, and beside an action: the twin of the server's
 * `trade.cautions_by_work`, which gives rules and sources. The texts come with the sums.
 */

const OF_UNKNOWN = ["skin_sensitising", "solvents"];
const OF_CLASS: Readonly<Record<string, readonly string[]>> = {
  laminating_epoxy: ["skin_sensitising", "pot_heat", "dust"],
  epoxy_fillet: ["skin_sensitising", "pot_heat", "dust"],
  epoxy_barrier_primer: ["skin_sensitising", "solvents", "dust"],
  polyester_laminating: ["peroxide", "styrene", "pot_heat", "dust"],
  polyester_waxed: ["peroxide", "styrene", "pot_heat", "dust"],
  vinylester: ["peroxide", "styrene", "pot_heat", "dust"],
  gelcoat: ["peroxide", "styrene", "dust"],
  topcoat_one_part: ["solvents"],
  topcoat_two_part_pu: ["isocyanate", "solvents"],
  antifouling_hard: ["biocide_dust", "solvents"],
  antifouling_self_polishing: ["biocide_dust", "solvents"],
  sealant: ["isocyanate", "solvents"],
};
const OF_ACTION = {
  mix: ["skin_sensitising", "pot_heat"],
  brush_or_roll: ["solvents"],
  spray: ["spray_mist", "solvents"],
  laminate: ["skin_sensitising", "glass_fibre"],
  sand: ["dust"],
  grind: ["dust", "glass_fibre", "power_tools"],
  wipe_with_solvent: ["solvents", "rags"],
  warm_to_cure: ["warming"],
  work_in_closed_space: ["closed_space", "solvents"],
  work_at_height: ["heights"],
  work_in_heat: ["heat_stress"],
} as const;

export type Action = keyof typeof OF_ACTION;

/** Give the ids of the cautions for a class of product and an action, each once. */
export function cautionsFor(product_class: string | null, action: Action | null): string[] {
  const known = product_class !== null && Object.hasOwn(OF_CLASS, product_class);
  const of_class = product_class === null ? [] : known ? OF_CLASS[product_class] : OF_UNKNOWN;
  return [...new Set([...(of_class ?? []), ...(action === null ? [] : OF_ACTION[action])])];
}
