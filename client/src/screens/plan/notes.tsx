/** What the board does not say, so that the plan had to take it for granted: for people to put right. */
import { More } from "../../parts/fields.tsx";
import { to } from "../../parts/router.ts";
import type { WholePlan } from "../../plan/types.ts";
import { say } from "../../words/index.ts";
import { jobOf, stepAndPlace } from "./facts.ts";
import { noteInWords } from "./planwords.ts";

export function Notes({ plan }: { plan: WholePlan }) {
  const codes = [...new Set(plan.notes?.map(({ code }) => code))];
  if (codes.length === 0) return null;
  return (
    <More label={say("plan.notes")} testid="plan-notes">
      <p>{say("plan.notes_why")}</p>
      {codes.map((code) => (
        <div key={code} data-testid="plan-note" data-code={code}>
          <p class="strong">{noteInWords(code)}</p>
          <ul>
            {plan.notes
              ?.filter((one) => one.code === code)
              .map(({ step_id }) => (
                <li key={step_id}>
                  <a class="line-link" href={to("job", jobOf(step_id)?.id ?? "")}>
                    {stepAndPlace(step_id)}
                  </a>
                </li>
              ))}
          </ul>
        </div>
      ))}
    </More>
  );
}
