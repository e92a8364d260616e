/** The plan: the date and what decides it, the days ahead as a timeline, and the work done and to come. */
import { useEffect } from "preact/hooks";
import { PageHead } from "../../parts/page.tsx";
import { askPlans, planInTheWorks, plansRead, readPlans } from "../../store/plans.ts";
import { say } from "../../words/index.ts";
import { DoneScreen } from "./done.tsx";
import { launchAt } from "./facts.ts";
import { Overview } from "./overview.tsx";
import { TimesScreen } from "./times.tsx";

const POLL_MS = 2_000;

export function PlanScreen({ path }: { path: string[] }) {
  useEffect(followPlans, []);
  // Who has just come aboard may be here before the board is.
  if (!plansRead.value || Number.isNaN(launchAt())) return <PageHead title={say("plan.title")} />;
  if (path[0] === "times") return <TimesScreen />;
  return path[0] === "done" ? <DoneScreen /> : <Overview />;
}

/** Ask now, and again and again while a plan is worked out. Without a signal the last answer stands. */
function followPlans(): () => void {
  const ask = (): void => void askPlans().catch(() => {});
  void readPlans().catch((error: unknown) => console.warn(error));
  ask();
  const timer = setInterval(() => {
    if (document.visibilityState === "visible" && planInTheWorks.peek()) ask();
  }, POLL_MS);
  return () => clearInterval(timer);
}
