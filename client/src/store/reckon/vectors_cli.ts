/**
 * Lets another program try this reckoning: one JSON object a line in, one a line out.
 *
 * In: `{items, records, now}`. Out: `{sources, steps, rings, warnings}` with instants in milliseconds since 1970.
 */
import { createInterface } from "node:readline";
import { ALARM_KINDS } from "../../clocks/warning_kinds.ts";
import type { Item, Rec } from "../../merge/state.ts";
import { Board } from "../board.ts";
import type { View } from "../types.ts";
import { RingRules } from "./rules.ts";
import { ClockBook } from "./sources.ts";
import { coatsByStep, StepStories } from "./steps.ts";
import { personalWarnings } from "./warnings.ts";

interface Line {
  items: Item[];
  records: Rec[];
  now: string;
}

/** How each kind rings for each person: about nothing in particular, about one step, and about two. */
function ringsOf(rows: View): Record<string, object> {
  const rules = new RingRules(rows);
  const about = [[], ["s0"], ["s0", "s1"]];
  return Object.fromEntries(
    rows
      .items("member")
      .flatMap((member) =>
        ALARM_KINDS.flatMap((kind) =>
          about.map((steps) => [
            [member.id, kind, ...steps].join(" "),
            rules.ring(member, kind, steps),
          ]),
        ),
      ),
  );
}

function answer({ items, records, now }: Line): object {
  const board = new Board("server000000");
  board.load([...items, ...records], [], []);
  const rows = board.view();
  const now_at = Date.parse(now);
  const sources = new ClockBook().sources(rows, now_at);
  const coats = coatsByStep(sources);
  const stories = new StepStories(rows, coats, now_at).all();
  const warnings = personalWarnings(rows, sources, coats, stories, now_at);
  return {
    sources: sources.map(({ record_id: _, ...source }) => source),
    steps: Object.fromEntries(stories),
    rings: ringsOf(rows),
    warnings: warnings.map(({ source: _, warning, ...rest }) => ({ ...rest, ...warning })),
  };
}

createInterface({ input: process.stdin }).on("line", (line) => {
  if (line.trim()) process.stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
});
