/** The work done and to come: hours of labour by day, all that is known, and the forecast's fan. */

import { More } from "../../parts/fields.tsx";
import { PageHead } from "../../parts/page.tsx";
import type { BurnUp } from "../../plan/types.ts";
import { wholePlan } from "../../store/plans.ts";
import { number } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { BurnUpChart } from "./burnup.tsx";
import { dayWritten } from "./instants.ts";
import { PlanAge, PlanOffline } from "./standing.tsx";

export function DoneScreen() {
  const burn_up = wholePlan.value?.forecast?.burn_up ?? null;
  return (
    <div class="plan">
      <PageHead title={say("plan.done_title")} otherwise={["plan"]} />
      <PlanOffline />
      <PlanAge />
      {burn_up === null ? (
        <p class="empty">{say("plan.done_none")}</p>
      ) : (
        <>
          <BurnUpChart burn_up={burn_up} />
          <Figures burn_up={burn_up} />
        </>
      )}
    </div>
  );
}

const hours = (value: number): string => say("plan.hours", { n: number(value, 0) });

/** The same in a table, a week apart. */
function Figures({ burn_up }: { burn_up: BurnUp }) {
  const { done, fan } = burn_up;
  const past = done.filter((_, n) => (done.length - 1 - n) % 7 === 0);
  const ahead = fan.filter((_, n) => n % 7 === 0 || n === fan.length - 1);
  return (
    <More label={say("plan.done_table")} testid="plan-done-table">
      <div class="plan-table-room">
        <table class="plan-table figures">
          <thead>
            <tr>
              <th scope="col">{say("plan.col_day")}</th>
              <th scope="col">{say("plan.col_low")}</th>
              <th scope="col">{say("plan.col_mid")}</th>
              <th scope="col">{say("plan.col_high")}</th>
            </tr>
          </thead>
          <tbody>
            {past.map((one) => (
              <tr key={one.on}>
                <th scope="row">{dayWritten(one.on)}</th>
                <td colSpan={3}>{say("plan.done_by", { hours: hours(one.labour_h) })}</td>
              </tr>
            ))}
            {ahead.map((one) => (
              <tr key={one.on}>
                <th scope="row">{dayWritten(one.on)}</th>
                <td>{hours(one.p10_h)}</td>
                <td>{hours(one.p50_h)}</td>
                <td>{hours(one.p90_h)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </More>
  );
}
