/**
 * The sums of the register, called by their stable names with plain JSON, which is read by the
 * schema that each sum describes itself with. Instants of an answer are milliseconds.
 */

import { AIR_SUMS } from "./by_name_air.ts";
import { AREA_SUMS } from "./by_name_area.ts";
import { COMPATIBILITY_SUMS } from "./by_name_compatibility.ts";
import { CURE_SUMS } from "./by_name_cure.ts";
import { FILM_SUMS } from "./by_name_film.ts";
import { LAMINATE_SUMS } from "./by_name_laminate.ts";
import { MIX_SUMS } from "./by_name_mix.ts";
import { READINESS_SUMS } from "./by_name_readiness.ts";
import { type Action, cautionsFor } from "./cautions.ts";
import { TradeError } from "./errors.ts";
import { type FieldSchema, readBySchema } from "./sum_reading.ts";

type Texts = Readonly<Record<string, string>>;

/** What the file of sums says that is needed here; it is made from the server's registry. */
export interface SumsFile {
  readonly sums: readonly { readonly name: string; readonly takes: FieldSchema }[];
  readonly cautions: Readonly<Record<string, Texts>>;
  readonly deference: Texts;
}

interface CautionsAsked {
  readonly product_class: string | null;
  readonly action: Action | null;
  readonly language: string;
}

// biome-ignore lint/suspicious/noExplicitAny: what a sum takes was read by its schema
type Sums = Readonly<Record<string, (given: any) => unknown>>;
const SUMS: Sums = {
  ...AIR_SUMS,
  ...FILM_SUMS,
  ...AREA_SUMS,
  ...MIX_SUMS,
  ...LAMINATE_SUMS,
  ...COMPATIBILITY_SUMS,
  ...CURE_SUMS,
  ...READINESS_SUMS,
};

/** Say whether a sum is worked out here. */
export function isYardSum(name: string): boolean {
  return name === "cautions" || Object.hasOwn(SUMS, name);
}

/** Work out a sum from plain JSON; throws TradeError naming the field that cannot be used. */
export function calculate(file: SumsFile, name: string, data: unknown): unknown {
  const described = file.sums.find((one) => one.name === name);
  if (described === undefined) throw new TradeError("name", `there is no sum named ${name}`);
  const given = readBySchema(described.takes, data);
  if (name === "cautions") return cautions(file, given as unknown as CautionsAsked);
  const sum = SUMS[name];
  if (sum === undefined) throw new TradeError("name", `the sum ${name} is not worked out here`);
  return sum(given);
}

function cautions(file: SumsFile, { product_class, action, language }: CautionsAsked) {
  if (product_class === null && action === null) {
    throw new TradeError("product_class", "give the class of the product, the action, or both");
  }
  const governs = file.deference[language] ?? "";
  return {
    cautions: cautionsFor(product_class, action).map((id) => ({
      id,
      text: `${file.cautions[id]?.[language] ?? file.cautions[id]?.en ?? ""} ${governs}`,
    })),
    governs,
  };
}
