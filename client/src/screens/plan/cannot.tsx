/** What cannot be made in time, and what it would take, each with the day that it buys. */
import { Slab } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import type { Cannot, WholePlan } from "../../plan/types.ts";
import { failedPlan } from "../../store/plans.ts";
import { say } from "../../words/index.ts";
import { jobOf, shownProposal, stepAndPlace } from "./facts.ts";
import { dayWritten } from "./instants.ts";
import { cannotInWords, lateInWords } from "./planwords.ts";

const FEW = 4;
/** How the codes begin that say what makes it late, and are no way out of it. */
const CAUSE = "late_";

export function CannotBe({ plan }: { plan: WholePlan }) {
  const bound_s = shownProposal()?.late_bound_s ?? null;
  const late = bound_s !== null && bound_s > 0;
  if (plan.cannot.length === 0 && !late) return null;
  return (
    <Slab title={say("plan.cannot")} testid="plan-cannot">
      {late && <p class="slab-note strong">{say("plan.bound", { late: lateInWords(bound_s) })}</p>}
      <ul class="lines">
        {plan.cannot.map((one, n) => (
          <CannotLine key={`${one.code}-${one.step_ids.join()}-${n}`} one={one} />
        ))}
      </ul>
    </Slab>
  );
}

/** What a plan that came to nothing would have taken. */
export function Lacking({ plan_id }: { plan_id: string }) {
  const plan = failedPlan.value;
  if (plan?.plan_id !== plan_id || plan.cannot.length === 0) return null;
  return (
    <ul class="lines" data-testid="plan-lacking">
      {plan.cannot.map((one, n) => (
        <CannotLine key={`${one.code}-${n}`} one={one} />
      ))}
    </ul>
  );
}

function CannotLine({ one }: { one: Cannot }) {
  const more = one.step_ids.length - FEW;
  return (
    <li data-testid="plan-cannot-one" data-code={one.code}>
      <p class="strong">{cannotInWords(one)}</p>
      {!one.code.startsWith(CAUSE) && (
        <p class="figures" data-testid="plan-buys">
          {one.buys_on ? say("plan.buys", { day: dayWritten(one.buys_on) }) : say("plan.buys_none")}
        </p>
      )}
      <ul>
        {one.step_ids.slice(0, FEW).map((id) => (
          <li key={id}>
            <a class="line-link" href={to("job", jobOf(id)?.id ?? "")}>
              {stepAndPlace(id)}
            </a>
          </li>
        ))}
      </ul>
      {more > 0 && <p class="quiet">{say("plan.and_more", { n: more })}</p>}
    </li>
  );
}
