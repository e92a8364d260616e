/**
 * Lets another program ask these sums: one JSON object a line in, one a line out, as `by_name` has it.
 */
import { createInterface } from "node:readline";
import { answer } from "./by_name.ts";

createInterface({ input: process.stdin }).on("line", (line) => {
  if (line.trim()) process.stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
});
