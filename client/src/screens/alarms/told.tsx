/** What rings for me next, and who was told of what, when, and whether they saw it. */
import { useEffect, useState } from "preact/hooks";
import { placeOf } from "../../parts/alarmwords.ts";
import { memberName, when } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { now } from "../../store/now.ts";
import { askTold, type Telling, told } from "../../store/told.ts";
import { me } from "../../store/view.ts";
import { warnings } from "../../store/warnings.ts";
import { say, sayOf } from "../../words/index.ts";
import { KeepAlarm } from "./calendar.tsx";

const DAY_MS = 24 * 3600 * 1000;
const FEW = 8;

export function NextUp() {
  const own = me.value?.member_id ?? "";
  const rows = warnings.value.filter(
    (row) =>
      row.recipients.includes(own) &&
      !row.seen &&
      row.due_at > now.value &&
      row.due_at < now.value + DAY_MS,
  );
  return (
    <Slab title={say("ring.next_up")} testid="ring-next-up">
      {rows.length === 0 && <p class="slab-note">{say("ring.next_up_none")}</p>}
      <ul class="lines">
        {rows.slice(0, FEW).map((row) => (
          <li key={row.alarm_id} class="line" data-testid="ring-coming" data-kind={row.kind}>
            <b class="figures">{when(row.due_at)}</b> {sayOf("ring", `kind_${row.kind}`)}
            <p>{placeOf(row)}</p>
            <KeepAlarm alarm_id={row.alarm_id} />
          </li>
        ))}
      </ul>
    </Slab>
  );
}

export function WhoWasTold() {
  const [answered, setAnswered] = useState(true);
  useEffect(() => {
    askTold().then(setAnswered, () => setAnswered(false));
  }, []);
  const rows = told.value.filter((one) => one.told_at !== null).reverse();
  return (
    <Slab title={say("ring.told")} testid="ring-told">
      {!answered && <p class="slab-note">{say("ring.told_offline")}</p>}
      {rows.length === 0 && <p class="slab-note">{say("ring.told_none")}</p>}
      <ul class="lines">
        {rows.map((one) => (
          <li key={one.alarm_id} class="line" data-testid="told" data-alarm={one.alarm_id}>
            <b>{sayOf("ring", `kind_${one.kind}`)}</b>: {sayOf("ring", `state_${one.state}`)}
            <p class="figures" data-testid="told-trace">
              {one.trace.map(inWords).join("; ")}
            </p>
          </li>
        ))}
      </ul>
    </Slab>
  );
}

function inWords({ member_id, told_at, seen_at }: Telling): string {
  const words = { name: memberName(member_id), when: when(told_at) };
  return seen_at
    ? say("ring.told_seen", { ...words, seen: when(seen_at) })
    : say("ring.told_unseen", words);
}
