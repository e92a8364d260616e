/** The same as the timeline in words: day by day, what begins when, by whom, and why then. */
import { yardZone } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { type DayLine, linesOf } from "../../plan/rows.ts";
import type { Proposal } from "../../plan/types.ts";
import { dayOf, longDay } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { kindOf, launchAt, nameOf, placeOf } from "./facts.ts";
import { at, dayIn, timeIn } from "./instants.ts";
import { KindIcon } from "./kindicon.tsx";
import { cureInWords, peopleInWords, whyInWords, windowInWords } from "./planwords.ts";

type Pick = (step_id: string, from: HTMLElement) => void;

export function DayList({ proposal, onPick }: { proposal: Proposal; onPick: Pick }) {
  const zone = yardZone();
  const days = new Map<string, DayLine[]>();
  for (const line of linesOf(proposal.steps)) {
    const day = dayIn(line.start);
    days.set(day, [...(days.get(day) ?? []), line]);
  }
  const launch = dayOf(launchAt(), zone);
  return (
    <div class="plan-list" data-testid="plan-list">
      {[...days].map(([day, lines]) => (
        <Slab key={day} title={longDay(lines[0]?.start ?? 0, zone)} testid="plan-list-day">
          {day === launch && (
            <p class="strong slab-note">{`${say("now.launch")}: ${at(launchAt())}`}</p>
          )}
          <ol>
            {lines.map((line) => (
              <LineOf key={`${line.step.step_id} ${line.start}`} line={line} onPick={onPick} />
            ))}
          </ol>
        </Slab>
      ))}
    </div>
  );
}

function LineOf({ line, onPick }: { line: DayLine; onPick: Pick }) {
  const { step, start, end, member_ids, first } = line;
  // The column of times is narrow: there a day may take two lines.
  const until = dayIn(start) === dayIn(end) ? timeIn(end) : at(end).replaceAll("\u00a0", " ");
  return (
    <li class="plan-list-line" data-testid="plan-list-step" data-step={step.step_id}>
      <p class="plan-list-time figures">
        {timeIn(start)} – {until}
      </p>
      <div>
        <button
          type="button"
          class="button button-line plan-list-name"
          onClick={(event) => onPick(step.step_id, event.currentTarget)}
        >
          <KindIcon kind={kindOf(step.step_id)} />
          {nameOf(step.step_id)}
        </button>
        <p>
          {placeOf(step.step_id)} · <b>{peopleInWords(member_ids)}</b>
        </p>
        {first && whyInWords(step.why) && <p class="quiet">{whyInWords(step.why)}</p>}
        {first && windowInWords(step) && (
          <p class={step.missed ? "problem" : "quiet"}>{windowInWords(step)}</p>
        )}
        {first && cureInWords(step) && <p class="quiet">{cureInWords(step)}</p>}
      </div>
    </li>
  );
}
