/** What a proposal changes against what the crew was told, person by person. */
import { More } from "../../parts/fields.tsx";
import { memberName } from "../../parts/know.ts";
import { to } from "../../parts/router.ts";
import type { Change, Proposal } from "../../plan/types.ts";
import { say } from "../../words/index.ts";
import { jobOf, stepAndPlace } from "./facts.ts";
import { at } from "./instants.ts";
import { peopleInWords } from "./planwords.ts";

const NOBODY = "";

const everybodyOf = ({ member_ids_before, member_ids_after }: Change): string[] => [
  ...new Set([...member_ids_before, ...member_ids_after]),
];

/** Whom a list of changes touches. */
export const peopleOf = (changes: readonly Change[]): string[] => [
  ...new Set(changes.flatMap(everybodyOf)),
];

export function Changes({ proposal }: { proposal: Proposal }) {
  const { changes } = proposal;
  if (changes.length === 0) return <p class="slab-note">{say("plan.changes_none")}</p>;
  const unmanned = changes.filter((one) => everybodyOf(one).length === 0);
  const groups: [string, Change[]][] = peopleOf(changes).map((id) => [
    id,
    changes.filter((one) => everybodyOf(one).includes(id)),
  ]);
  if (unmanned.length > 0) groups.push([NOBODY, unmanned]);
  return (
    <div data-testid="plan-changes">
      {groups.map(([id, rows]) => (
        <More
          key={id}
          label={say("plan.changes_for", {
            who: id === NOBODY ? say("plan.nobody") : memberName(id),
            n: rows.length,
          })}
          testid="plan-changes-for"
        >
          <ul class="lines">
            {rows.map((one) => (
              <ChangeLine key={one.step_id} one={one} member_id={id} />
            ))}
          </ul>
        </More>
      ))}
    </div>
  );
}

function ChangeLine({ one, member_id }: { one: Change; member_id: string }) {
  return (
    <li data-testid="plan-change" data-step={one.step_id}>
      <a class="line-link" href={to("job", jobOf(one.step_id)?.id ?? "")}>
        {stepAndPlace(one.step_id)}
      </a>
      <p class="figures">{timesOf(one)}</p>
      {whoOf(one, member_id) && <p>{whoOf(one, member_id)}</p>}
    </li>
  );
}

function timesOf({ start_at_before: before, start_at_after: after }: Change): string {
  if (before === null) return after === null ? "" : say("plan.now_new", { at: at(after) });
  if (after === null) return say("plan.now_none", { before: at(before) });
  if (before === after) return say("plan.now_same", { at: at(after) });
  return say("plan.now_moved", { before: at(before), at: at(after) });
}

/** What a change of people means for one of them. */
function whoOf({ member_ids_before, member_ids_after }: Change, member_id: string): string {
  const [was, is] = [member_ids_before.includes(member_id), member_ids_after.includes(member_id)];
  if (member_id === NOBODY || (was && is)) return "";
  return was
    ? say("plan.given_away", { who: peopleInWords(member_ids_after) })
    : say("plan.given", { who: peopleInWords(member_ids_before) });
}
