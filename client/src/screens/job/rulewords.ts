/** What a rule of the question whether a coat may go on found, with its figures in the yard's words. */
import type { RuleOutcome } from "../../clocks/readiness_air.ts";
import { choiceOf, tellOf } from "../../handbook/index.ts";
import { item, stepName, when } from "../../parts/know.ts";
import { number } from "../../words/dates.ts";
import { sayOf } from "../../words/index.ts";

export function ruleInWords({ code, params }: RuleOutcome): string {
  const words: Record<string, string> = {};
  for (const [name, value] of Object.entries(params)) {
    if (name.endsWith("_at")) words[name] = when(String(value));
    else if (name === "step_id")
      words.step = stepName(item("step", String(value))) || String(value);
    else if (name === "reason") words.reason = sayOf("hold", String(value));
    else words[name] = typeof value === "number" ? number(value) : choiceOf(name, value);
  }
  return tellOf("reason", code, words);
}
