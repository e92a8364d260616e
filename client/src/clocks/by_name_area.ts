/** The sums of areas by their stable names; what they are given was read by the schema. */

import { lessOpeningsM2, simpson, spacingsM } from "./area.ts";
import {
  type HullPart,
  hullPartM2,
  type Lengths,
  mumfordM2,
  type Shape,
  shapeAreaM2,
  volumeM3,
} from "./shapes.ts";

interface Openings {
  readonly openings_m2: readonly number[];
}

interface Girths extends Openings {
  readonly girths_m: readonly number[];
  readonly spacing_m: number | null;
  readonly stations_m: readonly number[] | null;
  readonly girths_are: "one_side" | "whole";
}

interface Part extends Openings {
  readonly part: HullPart;
  readonly length_m: number;
  readonly beam_m: number;
  readonly draft_m: number | null;
  readonly freeboard_m: number | null;
  readonly hulls: number;
}

interface Hull {
  readonly waterline_length_m: number;
  readonly draft_m: number;
  readonly displacement_m3: number | null;
  readonly displacement_kg: number | null;
  readonly water_density_kg_m3: number;
}

function net(gross_m2: number, { openings_m2 }: Openings) {
  return { area_m2: lessOpeningsM2(gross_m2, openings_m2), gross_m2 };
}

export function areaFromGirths(given: Girths) {
  const stations = given.girths_m.length;
  const gaps = spacingsM(given.stations_m, given.spacing_m, stations);
  const sides = given.girths_are === "one_side" ? 2 : 1;
  const gross_m2 = sides * Math.max(0, simpson(given.girths_m, gaps));
  const reasons = ["slope_left_out"];
  if (stations === 2) reasons.push("straight_line");
  else if (stations % 2 === 0) reasons.push("last_interval_by_parabola");
  return { ...net(gross_m2, given), stations, basis: "formula", reasons };
}

export function shapeArea(given: Openings & Lengths & { shape: Shape; count: number }) {
  return net(given.count * shapeAreaM2(given.shape, given), given);
}

export function netArea(given: Openings & { areas_m2: readonly number[]; twin_sides: boolean }) {
  const sides = given.twin_sides ? 2 : 1;
  const gross_m2 = given.areas_m2.reduce((sum, one) => sum + one, 0);
  return {
    area_m2: sides * lessOpeningsM2(gross_m2, given.openings_m2),
    gross_m2: sides * gross_m2,
  };
}

export function wettedAreaMumford(given: Hull) {
  const volume_m3 = volumeM3(
    given.displacement_m3,
    given.displacement_kg,
    given.water_density_kg_m3,
  );
  const area_m2 = mumfordM2(given.waterline_length_m, given.draft_m, volume_m3);
  return { area_m2, basis: "rule_of_thumb" };
}

export function hullRuleOfThumb(given: Part) {
  const { part, length_m, beam_m, draft_m, freeboard_m, hulls } = given;
  const gross_m2 = hullPartM2(part, length_m, beam_m, draft_m, freeboard_m, hulls);
  return { ...net(gross_m2, given), basis: "common_practice" };
}

export const AREA_SUMS = {
  area_from_girths: areaFromGirths,
  shape_area: shapeArea,
  net_area: netArea,
  wetted_area_mumford: wettedAreaMumford,
  hull_rule_of_thumb: hullRuleOfThumb,
};
