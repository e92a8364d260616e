/** The kinds of step, as the catalogue lists them. */
import { ITEM_KINDS } from "../merge/catalogue.ts";

export const STEP_KINDS: readonly string[] = ITEM_KINDS.get("step")?.fields.kind?.of ?? [];
