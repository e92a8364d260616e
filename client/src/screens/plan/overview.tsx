/** The plan's first screen: the date, how the plan stands, what would change, what cannot be, and what decides the date. */
import { Icon } from "../../parts/icon.tsx";
import { PageHead } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { wholePlan } from "../../store/plans.ts";
import { me } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { CannotBe } from "./cannot.tsx";
import { Deciding, UntilAfloat } from "./deciding.tsx";
import { shownProposal } from "./facts.ts";
import { Glance } from "./glance.tsx";
import { Notes } from "./notes.tsx";
import { Proposals } from "./proposals.tsx";
import { PlanOffline, Standing } from "./standing.tsx";

export function Overview() {
  const plan = wholePlan.value;
  const late = (shownProposal()?.score.late_s ?? 0) > 0;
  return (
    <>
      <PageHead title={say("plan.title")} otherwise={["now"]} />
      <PlanOffline />
      <div class="columns columns-two plan">
        <div>
          <Glance />
          <Standing />
          {plan && late && <CannotBe plan={plan} />}
          {plan && <Ways burn_up={!!plan.forecast?.burn_up} />}
          {plan && <Proposals plan={plan} />}
        </div>
        {plan && (
          <div>
            {!late && <CannotBe plan={plan} />}
            {plan.forecast && <UntilAfloat forecast={plan.forecast} />}
            {plan.forecast && <Deciding forecast={plan.forecast} />}
            <Notes plan={plan} />
          </div>
        )}
      </div>
    </>
  );
}

/** To the days ahead, to the work done and to come, and to my own steps. */
function Ways({ burn_up }: { burn_up: boolean }) {
  return (
    <nav class="log-list plan-ways" aria-label={say("plan.ways")}>
      <a href={to("plan", "times")} data-testid="plan-to-times">
        <Icon name="now" />
        <span>
          <b>{say("plan.times")}</b>
          <small>{say("plan.times_why")}</small>
        </span>
      </a>
      {burn_up && (
        <a href={to("plan", "done")} data-testid="plan-to-done">
          <Icon name="hours" />
          <span>
            <b>{say("plan.done_title")}</b>
            <small>{say("plan.done_why")}</small>
          </span>
        </a>
      )}
      {me.value?.role !== "viewer" && (
        <a href={to("now")} data-testid="plan-to-mine">
          <Icon name="person" />
          <span>
            <b>{say("plan.mine")}</b>
            <small>{say("plan.mine_why")}</small>
          </span>
        </a>
      )}
    </nav>
  );
}
