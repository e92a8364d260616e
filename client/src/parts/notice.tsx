/** The alarm across the whole screen: what, by when, what happens otherwise; seen, later, done, and the way to the deed. */

import { snooze } from "../ring/snooze.ts";
import { markHandled } from "../store/acts/alarms.ts";
import { markSeen } from "../store/acts/logs.ts";
import { ringing, type WarningRow } from "../store/warnings.ts";
import { type Key, say, sayOf } from "../words/index.ts";
import { byWhen, byWords, following, handedBy, placeOf } from "./alarmwords.ts";
import { Bells } from "./bells.tsx";
import { Icon } from "./icon.tsx";
import { canWork, left } from "./know.ts";
import { to } from "./router.ts";
import { attempt } from "./said.tsx";

const LATER_MIN = 10;
const TONES: Record<string, string> = {
  recoat_open: "open",
  sandable: "open",
  immerse_open: "open",
  step_due: "open",
  recoat_closing: "closing",
  pot_life_ending: "closing",
  immerse_closing: "closing",
  weather_edge: "closing",
  launch_countdown: "closing",
  reading_stale: "closing",
};

export function Notice() {
  const [row, ...more] = ringing.value;
  return (
    <>
      <Bells />
      <div class="unseen" role="alert">
        {row && `${sayOf("alarm_what", row.kind)} ${placeOf(row)}, ${byWords(byWhen(row))}`}
      </div>
      {row && <OneNotice row={row} more={more.length} />}
    </>
  );
}

/** Where the deed is done that an alarm asks for. */
function deedOf(row: WarningRow): { href: string; label: Key } | null {
  const { kind, job_id } = row;
  const next = following(row);
  if (canWork() && next && (kind === "recoat_open" || kind === "recoat_closing"))
    return { href: to("log", "coat", next), label: "do.next_coat" };
  if (canWork() && (kind === "reading_stale" || kind === "weather_edge"))
    return { href: to("log", "reading"), label: "alarm.take_reading" };
  if (kind === "launch_countdown") return { href: to("work"), label: "alarm.see_work" };
  if (!job_id) return null;
  const label = kind === "recoat_missed" ? "alarm.first" : "alarm.go";
  return { href: to("job", job_id), label };
}

function OneNotice({ row, more }: { row: WarningRow; more: number }) {
  const by = byWhen(row);
  const deed = deedOf(row);
  const handed = handedBy(row);
  // Who goes to do it has seen it.
  const seen = () => void attempt(() => markSeen(row.alarm_id), "");
  return (
    <section
      class="notice"
      data-tone={TONES[row.kind] ?? "gone"}
      aria-label={say("alarm.label")}
      data-testid="alarm"
      data-alarm={row.alarm_id}
      data-kind={row.kind}
    >
      <p class="notice-what">
        <Icon name="bell" />
        {sayOf("alarm_what", row.kind)}
      </p>
      {handed && <p data-testid="alarm-handed">{handed}</p>}
      <p class="notice-place">{placeOf(row)}</p>
      <p class="notice-by figures" data-testid="alarm-by">
        {byWords(by)} <span class="notice-left">{left(by)}</span>
      </p>
      <p>{sayOf("alarm_else", row.kind)}</p>
      <div class="buttons">
        {deed && (
          <a class="button button-wide" href={deed.href} onClick={seen} data-testid="alarm-do">
            {say(deed.label)}
          </a>
        )}
        <button type="button" class="button" data-testid="alarm-seen" onClick={seen}>
          {say("alarm.seen")}
        </button>
        <button
          type="button"
          class="button"
          data-testid="alarm-later"
          onClick={() => void attempt(() => snooze(row.alarm_id, LATER_MIN), "")}
        >
          {say("alarm.later")}
        </button>
        {canWork() && (
          <button
            type="button"
            class="button"
            data-testid="alarm-done"
            onClick={() => void attempt(() => markHandled(row.alarm_id), "")}
          >
            {say("alarm.done")}
          </button>
        )}
      </div>
      {more > 0 && <p class="strong">{say("alarm.more", { n: more })}</p>}
    </section>
  );
}
