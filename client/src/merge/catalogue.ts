/** The catalogue of kinds, as the server has it: fixtures/vectors/merge/catalogue.json is made from its source. */
import catalogue from "../../../fixtures/vectors/merge/catalogue.json";
import type { Json } from "./state.ts";

export interface Field {
  type: string;
  least?: number;
  most?: number;
  of?: string[];
  required?: boolean;
  default?: Json;
}

export interface ItemKind {
  fields: Record<string, Field>;
  sets: Record<string, string>;
}

export interface RecordKind {
  body: Record<string, Field>;
}

export const SCHEMA: number = catalogue.schema;
export const ITEM_KINDS: ReadonlyMap<string, ItemKind> = new Map(
  Object.entries(catalogue.items as unknown as Record<string, ItemKind>),
);
export const RECORD_KINDS: ReadonlyMap<string, RecordKind> = new Map(
  Object.entries(catalogue.records as unknown as Record<string, RecordKind>),
);
