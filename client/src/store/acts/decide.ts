/** What only a person can decide: two values, two records of one coat, a refused operation. */
import { commit, dealWith } from "../local.ts";
import { view } from "../view.ts";
import { recording } from "./actions.ts";

/** Say whether two applications are one coat that two people wrote down. */
export async function answerQuestion(
  first_id: string,
  second_id: string,
  answer: "one_coat" | "two_coats",
): Promise<void> {
  const root = (id: string): string => view.peek().record("application", id)?.root_id ?? id;
  const body = { first_id: root(first_id), second_id: root(second_id), answer };
  await commit("answer_question", [recording("answer", body)]);
}

/** Lay a refused operation aside ("drop"), or do the same again as a new operation ("again"). */
export async function dealWithRefused(n: number, how: "drop" | "again"): Promise<void> {
  await dealWith(n, how);
}
