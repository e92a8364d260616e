/** The sums as they describe themselves: fixtures/trade/sums.json is made from the server's registry. */
import file from "../../../../fixtures/trade/sums.json" with { type: "json" };
import type { Json } from "../../store/view.ts";

/** What a field says of itself: the part of JSON Schema that the registry writes. */
export interface Schema {
  type?: string | string[];
  unit?: string;
  description?: string;
  default?: Json;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
  exclusiveMaximum?: number;
  enum?: (string | null)[];
  minItems?: number;
  maxItems?: number;
  maxLength?: number;
  format?: string;
  items?: Schema;
  properties?: Record<string, Schema>;
  required?: string[];
}

export interface Described {
  name: string;
  family: string;
  about: string;
  takes: Schema;
  gives: Schema;
  source: string;
  cautions: string[];
}

type Texts = Record<string, string>;
interface File {
  sums: Described[];
  cautions: Record<string, Texts>;
  deference: Texts;
}

const { sums, cautions, deference } = file as unknown as File;

export const SUMS: readonly Described[] = sums;
export const CAUTIONS: Readonly<Record<string, Texts>> = cautions;
export const DEFERENCE: Texts = deference;

export const sumNamed = (name: string): Described | undefined =>
  SUMS.find((one) => one.name === name);

/** The families in the order in which the registry has them. */
export const FAMILIES: readonly string[] = [...new Set(SUMS.map((one) => one.family))];

/** What a field holds, whether or not it may be null. */
export function kindOf(schema: Schema): string {
  const types = [schema.type ?? "object"].flat().filter((one) => one !== "null");
  return types[0] ?? "object";
}

export const mayBeNull = (schema: Schema): boolean => [schema.type].flat().includes("null");

/** A caution in a language, in English where there is none in it. */
export const cautionIn = (id: string, language: string): string =>
  CAUTIONS[id]?.[language] ?? CAUTIONS[id]?.en ?? id;
