/** What could not be told in time: what it was, when it had been due, what to do now; there until it is seen. */
import { when } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { attempt } from "../../parts/said.tsx";
import { markSeen } from "../../store/acts/index.ts";
import { type Missed, missedIn, missedNotice } from "../../store/told.ts";
import { say, sayOf } from "../../words/index.ts";

export function WhatWasMissed() {
  const notice = missedNotice.value;
  if (!notice) return null;
  const entries = missedIn(notice);
  const left = Number(notice.params.missed_n ?? 0) - entries.length;
  const seen = () => attempt(() => markSeen(notice.alarm_id), "");
  return (
    <div class="missed">
      <Slab title={say("missed.title")} testid="missed">
        <p class="slab-note">{say("missed.why")}</p>
        <ul class="lines">
          {entries.map((one) => (
            <li key={`${one.alarm_id} ${one.due_at}`} class="line" data-testid="missed-one">
              <b>{sayOf("ring", `kind_${one.kind}`)}</b>
              <p>{placeIn(one)}</p>
              <p class="figures">{say("missed.was_due", { when: when(one.due_at) })}</p>
              <p class="strong">{sayOf("missed", `now_${one.kind}`)}</p>
            </li>
          ))}
        </ul>
        {left > 0 && <p class="slab-note">{say("missed.more", { n: left })}</p>}
        <button type="button" class="button button-main" onClick={seen} data-testid="missed-seen">
          {say("missed.seen")}
        </button>
      </Slab>
    </div>
  );
}

const placeIn = ({ step, job, zone, product }: Missed): string =>
  [step, job, zone, product].filter(Boolean).join(", ");
