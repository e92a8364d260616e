/** The generic classes of product, with typical numbers, that a sheet can start from without a signal. */
import antifouling_hard from "../../../../fixtures/profiles/antifouling_hard.json" with {
  type: "json",
};
import antifouling_self_polishing from "../../../../fixtures/profiles/antifouling_self_polishing.json" with {
  type: "json",
};
import epoxy_barrier_primer from "../../../../fixtures/profiles/epoxy_barrier_primer.json" with {
  type: "json",
};
import epoxy_fillet from "../../../../fixtures/profiles/epoxy_fillet.json" with { type: "json" };
import epoxy_polyamide_primer from "../../../../fixtures/profiles/epoxy_polyamide_primer.json" with {
  type: "json",
};
import gelcoat from "../../../../fixtures/profiles/gelcoat.json" with { type: "json" };
import laminating_epoxy_fast from "../../../../fixtures/profiles/laminating_epoxy_fast.json" with {
  type: "json",
};
import laminating_epoxy_slow from "../../../../fixtures/profiles/laminating_epoxy_slow.json" with {
  type: "json",
};
import polyester_laminating from "../../../../fixtures/profiles/polyester_laminating.json" with {
  type: "json",
};
import polyester_waxed from "../../../../fixtures/profiles/polyester_waxed.json" with {
  type: "json",
};
import sealant from "../../../../fixtures/profiles/sealant.json" with { type: "json" };
import topcoat_one_part from "../../../../fixtures/profiles/topcoat_one_part.json" with {
  type: "json",
};
import topcoat_two_part_pu from "../../../../fixtures/profiles/topcoat_two_part_pu.json" with {
  type: "json",
};
import vinylester from "../../../../fixtures/profiles/vinylester.json" with { type: "json" };
import type { Json } from "../../store/view.ts";

export type ProfileJson = { [name: string]: Json };

export const BUNDLED = [
  ...[laminating_epoxy_fast, laminating_epoxy_slow, epoxy_fillet],
  ...[epoxy_barrier_primer, epoxy_polyamide_primer],
  ...[polyester_laminating, polyester_waxed, vinylester, gelcoat],
  ...[topcoat_two_part_pu, topcoat_one_part],
  ...[antifouling_self_polishing, antifouling_hard, sealant],
] as unknown as readonly ProfileJson[];

export const bundled = (id: string): ProfileJson | undefined =>
  BUNDLED.find((one) => one.id === id);
