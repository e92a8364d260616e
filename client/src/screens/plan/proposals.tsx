/** The ways to plan side by side, what the chosen one changes and for whom, and giving it to the crew. */
import { useState } from "preact/hooks";
import { Icon } from "../../parts/icon.tsx";
import { isOwner } from "../../parts/know.ts";
import { Ask, Slab } from "../../parts/page.tsx";
import { attempt } from "../../parts/said.tsx";
import type { Proposal, WholePlan } from "../../plan/types.ts";
import { publishPlan } from "../../store/plans.ts";
import { span } from "../../words/dates.ts";
import { type Key, knows, say } from "../../words/index.ts";
import { Changes, peopleOf } from "./changes.tsx";
import { lookAt, shownProposal } from "./facts.ts";
import { lateInWords } from "./planwords.ts";

const nameOf = ({ id }: Proposal): string =>
  knows(`plan.proposal_${id}`) ? say(`plan.proposal_${id}` as Key) : id.replaceAll("_", " ");

/** What is compared, in the order in which the planner cares for it. */
const ROWS: { key: Key; cell: (one: Proposal) => string }[] = [
  { key: "plan.row_launch", cell: ({ score }) => lateInWords(score.late_s) },
  { key: "plan.row_windows", cell: windows },
  {
    key: "plan.row_changes",
    cell: ({ changes }) =>
      changes.length ? say("plan.changes_n", { n: changes.length }) : say("plan.none_of_it"),
  },
  { key: "plan.row_idle", cell: ({ score }) => some(score.idle_and_walks_s) },
];

const some = (s: number): string => (s > 0 ? span(s * 1000) : say("plan.none_of_it"));

function windows({ steps, score }: Proposal): string {
  const n = steps.filter((step) => step.missed).length;
  if (n === 0) return say("plan.windows_none");
  const lost = span(score.missed_work_s * 1000);
  return say("plan.windows_missed", { n, span: lost });
}

function titleOf({ state, proposals }: WholePlan): Key {
  if (state === "published") return "plan.what_was_given";
  return proposals.length > 1 ? "plan.proposals" : "plan.comes_to";
}

export function Proposals({ plan }: { plan: WholePlan }) {
  const chosen = shownProposal();
  if (chosen === undefined) return null;
  const published = plan.state === "published";
  return (
    <Slab title={say(titleOf(plan))} testid="plan-proposals">
      {!published && plan.proposals.length > 1 && <Beside plan={plan} chosen={chosen} />}
      {!published && plan.proposals.length === 1 && <Alone one={chosen} />}
      {isOwner() && !published && plan.state === "ready" && (
        <Publish key={chosen.id} plan={plan} chosen={chosen} />
      )}
      <Changes proposal={chosen} />
    </Slab>
  );
}

/** Side by side: one column for each, chosen by its head. */
function Beside({ plan, chosen }: { plan: WholePlan; chosen: Proposal }) {
  return (
    <table class="plan-beside figures" data-testid="plan-beside">
      <caption class="unseen">{say("plan.proposals")}</caption>
      <thead>
        <tr>
          {plan.proposals.map((one) => (
            <th key={one.id} scope="col">
              <button
                type="button"
                class="button"
                aria-pressed={one.id === chosen.id}
                data-testid="plan-choose"
                data-id={one.id}
                onClick={() => lookAt(plan, one.id)}
              >
                {nameOf(one)}
              </button>
            </th>
          ))}
        </tr>
      </thead>
      {ROWS.map(({ key, cell }) => (
        <tbody key={key}>
          <tr>
            <th scope="rowgroup" colSpan={plan.proposals.length} class="plan-beside-what">
              {say(key)}
            </th>
          </tr>
          <tr>
            {plan.proposals.map((one) => (
              <td key={one.id} data-chosen={one.id === chosen.id}>
                {cell(one)}
              </td>
            ))}
          </tr>
        </tbody>
      ))}
    </table>
  );
}

function Alone({ one }: { one: Proposal }) {
  return (
    <dl class="facts figures">
      {ROWS.map(({ key, cell }) => (
        <div key={key}>
          <dt>{say(key)}</dt>
          <dd>{cell(one)}</dd>
        </div>
      ))}
    </dl>
  );
}

/** One tap, and a second one to confirm. */
function Publish({ plan, chosen }: { plan: WholePlan; chosen: Proposal }) {
  const [asked, setAsked] = useState(false);
  const people = peopleOf(chosen.changes);
  if (!asked) {
    return (
      <button
        type="button"
        class="button button-main"
        data-testid="plan-publish"
        onClick={() => setAsked(true)}
      >
        <Icon name="send" />
        {say("plan.publish")}
      </button>
    );
  }
  const publish = async (): Promise<void> => {
    if (await attempt(() => publishPlan(plan.plan_id, chosen.id), say("plan.published_now")))
      setAsked(false);
  };
  return (
    <Ask
      question={
        <>
          <p class="strong">{say("plan.publish_sure", { what: nameOf(chosen) })}</p>
          <p>{say("plan.publish_whom", { n: chosen.changes.length, people: people.length })}</p>
        </>
      }
      yes={say("plan.publish_yes")}
      onYes={() => void publish()}
      onNo={() => setAsked(false)}
      testid="plan-publish-ask"
    />
  );
}
