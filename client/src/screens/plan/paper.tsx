/** The timeline on paper: A4 across, one block for each week, since paper does not scroll. */

import { yardZone } from "../../parts/know.ts";
import { dayAfter, weekdayOf } from "../../plan/axis.ts";
import type { Proposal } from "../../plan/types.ts";
import { dayOf } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { launchAt } from "./facts.ts";
import { Head } from "./head.tsx";
import { dayWritten } from "./instants.ts";
import { Key } from "./key.tsx";
import { Patterns } from "./patterns.tsx";
import { RowLine } from "./row.tsx";
import { axisOf, type Grouping, planDays, rowName, rowsOf } from "./view.ts";

/** A4 across with margins of 10 mm, at 96 px to the inch, less the column of names. */
const WEEK_PX = 1046 - 118 - 2;
const [NIGHT_PX, FREE_PX] = [12, 60];

export function Paper({ proposal, grouping }: { proposal: Proposal; grouping: Grouping }) {
  const weeks = weeksOf(planDays(proposal));
  return (
    <div class="plan-paper" data-testid="plan-paper">
      <Patterns />
      {weeks.map((days) => (
        <Week key={days[0]} days={days} proposal={proposal} grouping={grouping} />
      ))}
      <Key />
    </div>
  );
}

/** From Monday to Sunday; the first and the last week are filled up, so that all are as wide. */
function weeksOf(days: readonly string[]): string[][] {
  const [first, last] = [days[0], days.at(-1)];
  if (first === undefined || last === undefined) return [];
  const weeks: string[][] = [];
  for (let day = dayAfter(first, 1 - weekdayOf(first)); day <= last; day = dayAfter(day, 7))
    weeks.push(Array.from({ length: 7 }, (_, n) => dayAfter(day, n)));
  return weeks;
}

function Week(props: { days: string[]; proposal: Proposal; grouping: Grouping }) {
  const { days, proposal, grouping } = props;
  const axis = axisOf(proposal, days, scaleFor(proposal, days));
  const rows = rowsOf(proposal, axis, grouping);
  const launch = dayOf(launchAt(), yardZone());
  if (rows.length === 0 && !days.includes(launch)) return null;
  return (
    <section class="plan-week" data-testid="plan-week">
      <h2>{say("plan.week_of", { day: dayWritten(days[0] as string) })}</h2>
      <Head axis={axis} hours={false} />
      {rows.map((row) => (
        <RowLine
          key={row.id}
          row={row}
          name={rowName(row.id, grouping)}
          grouping={grouping}
          axis={axis}
        />
      ))}
    </section>
  );
}

/** So wide an hour that the week fills the paper. */
function scaleFor(proposal: Proposal, days: string[]) {
  const thin = { hour: 1, night: 0, free: 0 };
  const open_px = axisOf(proposal, days, thin).width;
  const probe = axisOf(proposal, days, { hour: 0, night: NIGHT_PX, free: FREE_PX });
  return {
    hour: open_px > 0 ? (WEEK_PX - probe.width) / open_px : 0,
    night: NIGHT_PX,
    free: FREE_PX,
  };
}
