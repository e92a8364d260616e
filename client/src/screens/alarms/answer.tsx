/** One alarm that was tapped on its notification: what it is, and all that can be answered to it. */
import { useEffect } from "preact/hooks";
import { byWhen, byWords, placeOf } from "../../parts/alarmwords.ts";
import { canWork } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { go, to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { snooze } from "../../ring/snooze.ts";
import { markHandled, markSeen } from "../../store/acts/index.ts";
import { askTold, told } from "../../store/told.ts";
import { warnings } from "../../store/warnings.ts";
import { say, sayOf } from "../../words/index.ts";

const LATER_MIN = 10;

export function AnswerAlarm({ id }: { id: string }) {
  useEffect(() => void askTold(), []);
  const row = warnings.value.find((one) => one.alarm_id === id);
  const known = told.value.find((one) => one.alarm_id === id);
  const kind = row?.kind ?? known?.kind ?? "";
  const settled = row?.seen === true || known?.state === "seen" || known?.state === "done";
  const answer = async (deed: () => Promise<void>) => {
    if (await attempt(deed, say("said.saved"))) go("now");
  };
  return (
    <>
      <PageHead title={say("alarm.label")} otherwise={["now"]} />
      <Slab title={kind ? sayOf("alarm_what", kind) : say("answer.unknown")} testid="answer">
        <div class="slab-note">
          {row && (
            <>
              <p class="strong">{placeOf(row)}</p>
              <p class="big-time">{byWords(byWhen(row))}</p>
            </>
          )}
          {kind && <p>{sayOf("alarm_else", kind)}</p>}
          {settled && <p data-testid="answer-settled">{say("answer.settled")}</p>}
        </div>
        <div class="buttons">
          {row?.job_id && (
            <a class="button button-wide" href={to("job", row.job_id)}>
              {say("alarm.go")}
            </a>
          )}
          <button
            type="button"
            class="button"
            onClick={() => answer(() => markSeen(id))}
            data-testid="answer-seen"
          >
            {say("alarm.seen")}
          </button>
          <button
            type="button"
            class="button"
            onClick={() => answer(() => snooze(id, LATER_MIN))}
            data-testid="answer-later"
          >
            {say("alarm.later")}
          </button>
          {canWork() && (
            <button
              type="button"
              class="button"
              onClick={() => answer(() => markHandled(id))}
              data-testid="answer-done"
            >
              {say("alarm.done")}
            </button>
          )}
        </div>
      </Slab>
    </>
  );
}
