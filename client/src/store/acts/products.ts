/** Products: a tin's name and its numbers. Records keep the numbers that they were made with. */
import { newId } from "../ids.ts";
import { commit } from "../local.ts";
import type { Json } from "../types.ts";
import { creating, setting } from "./actions.ts";

export interface ProductBody {
  name: string;
  profile: Json;
}

/** Put a product on the board. Answers its id. */
export async function createProduct(body: ProductBody): Promise<string> {
  const id = newId();
  await commit("create_product", [creating("product", id, { ...body })]);
  return id;
}

/** Give a product other numbers or another name; what was logged with the old ones keeps them. */
export async function saveProduct(id: string, body: ProductBody): Promise<void> {
  await commit("save_product", [setting("product", id, { ...body })]);
}
