/** How the plan stands: how old it is, whether one is being worked out, and the owner's button for another. */
import { Icon } from "../../parts/icon.tsx";
import { isOwner, memberName } from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import type { PlanHead } from "../../plan/types.ts";
import {
  askForPlan,
  cancelPlan,
  planHeads,
  planInTheWorks,
  plansKnownAt,
  wholePlan,
} from "../../store/plans.ts";
import { syncState } from "../../store/syncState.ts";
import { leftInWords } from "../../words/dates.ts";
import { type Key, knows, say } from "../../words/index.ts";
import { Lacking } from "./cannot.tsx";
import { at, minute } from "./instants.ts";
import { askedForInWords, lateInWords, percent, problemInWords } from "./planwords.ts";

export function Standing() {
  const working = planInTheWorks.value;
  const last = planHeads.value[0];
  return (
    <section class="plan-standing" data-testid="plan-standing" data-state={last?.state ?? "none"}>
      <PlanAge />
      {working ? <Working head={working} /> : last && <Ended head={last} />}
      {isOwner() && !working && (
        <button
          type="button"
          class="button button-wide"
          data-testid="plan-ask"
          onClick={() => void attempt(askForPlan, say("plan.asked_now"))}
        >
          <Icon name="hours" />
          {say(wholePlan.value ? "plan.ask_again" : "plan.ask")}
        </button>
      )}
      {!isOwner() && !last && <p>{say("plan.owner_asks")}</p>}
    </section>
  );
}

/** Without a signal: since when all of it may have changed. It stands above what it is said of. */
export function PlanOffline() {
  const known_at = plansKnownAt.value;
  if (wholePlan.value === null || known_at === null || syncState.value.online) return null;
  return (
    <p class="gap plan-offline" data-testid="plan-offline">
      {say("plan.offline", { at: at(known_at) })}
    </p>
  );
}

/** What is shown, and since when it has been so. */
export function PlanAge() {
  const plan = wholePlan.value;
  const known_at = plansKnownAt.value;
  if (plan === null || known_at === null) {
    return (
      <p class="strong" data-testid="plan-none">
        {say(known_at === null && !syncState.value.online ? "plan.not_here" : "plan.none")}
      </p>
    );
  }
  const made_at = plan.done_at ?? plan.asked_at;
  const key = plan.state === "published" ? "plan.is_published" : "plan.is_ready";
  return (
    <div data-testid="plan-age">
      <p class="strong">
        {say(key, { at: at(plan.published_at ?? made_at) })}{" "}
        <span class="quiet">{ago(Date.parse(made_at))}</span>
      </p>
    </div>
  );
}

/** The clock of these screens may be up to a minute behind: what was made since is of just now. */
const ago = (ms: number): string => leftInWords(ms, Math.max(ms, minute.value));

function Working({ head }: { head: PlanHead }) {
  const { progress } = head;
  const phase = `plan.phase_${progress?.phase ?? ""}`;
  return (
    <div class="plan-working" role="status" data-testid="plan-working">
      <p class="strong">
        {head.state === "asked"
          ? waitingInWords(head)
          : say("plan.running", { part: percent(progress?.p_done ?? 0) })}
        {knows(phase) && ` ${say(phase as Key)}`}
      </p>
      {progress && (
        <progress max={1} value={progress.p_done} aria-label={say("plan.progress")}>
          {percent(progress.p_done)}
        </progress>
      )}
      {progress?.late_s !== null && progress?.late_s !== undefined && (
        <p>
          {say("plan.so_far", { late: lateInWords(progress.late_s) })}
          {progress.missed ? ` ${say("plan.missed_n", { n: progress.missed })}` : ""}
        </p>
      )}
      {isOwner() && (
        <button
          type="button"
          class="button"
          data-testid="plan-cancel"
          onClick={() => void attempt(() => cancelPlan(head.plan_id), say("plan.cancelled_now"))}
        >
          {say("plan.cancel")}
        </button>
      )}
    </div>
  );
}

const waitingInWords = ({ asked_at, asked_by }: PlanHead): string =>
  asked_by === null
    ? say("plan.waits_itself", { at: at(asked_at) })
    : say("plan.waits", { at: at(asked_at), who: memberName(asked_by) });

/** How the last one ended, where that is not seen from the plan itself, and why it was asked for. */
function Ended({ head }: { head: PlanHead }) {
  if (head.state === "failed" || head.state === "cancelled") {
    return (
      <>
        <p class="problem" data-testid="plan-ended">
          {say(`plan.${head.state}` as Key, { at: at(head.asked_at) })}
          {head.problem && ` ${problemInWords(head.problem)}`}
        </p>
        {head.state === "failed" && <Lacking plan_id={head.plan_id} />}
      </>
    );
  }
  const why = head.why.map(askedForInWords).filter(Boolean);
  return why.length ? <p class="quiet">{say("plan.because", { why: why.join("; ") })}</p> : null;
}
