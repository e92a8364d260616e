/**
 * Lets another program try how this phone answers whether a coat may go on: one JSON object a line in, one a line out.
 *
 * In: `{items, records, now}`. Out: by each step that lays something, its facts, what lies below, and the answer.
 */
import { createInterface } from "node:readline";
import { mayCoatNow } from "../../clocks/readiness.ts";
import type { Item, Rec } from "../../merge/state.ts";
import { Board } from "../board.ts";
import { CoatFactsOf } from "./coat_facts.ts";
import { ClockBook } from "./sources.ts";
import { coatsByStep, StepStories } from "./steps.ts";

interface Line {
  items: Item[];
  records: Rec[];
  now: string;
}

const LAYS = new Set(["coat", "laminate", "fillet", "fair", "bed"]);

function answer({ items, records, now }: Line): object {
  const board = new Board("server000000");
  board.load([...items, ...records], [], []);
  const rows = board.view();
  const now_at = Date.parse(now);
  const coats = coatsByStep(new ClockBook().sources(rows, now_at));
  const gathered = new CoatFactsOf(rows, new StepStories(rows, coats, now_at).all(), now_at);
  const steps = rows.items("step").filter((row) => LAYS.has(String(row.fields.kind)));
  return Object.fromEntries(
    steps.map(({ id }) => {
      const asked = gathered.question(id);
      const { facts, track, below_step_id } = asked ?? {};
      return [id, { facts, below_step_id, answer: facts && track && mayCoatNow(facts, track) }];
    }),
  );
}

createInterface({ input: process.stdin }).on("line", (line) => {
  if (line.trim()) process.stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
});
