/** The alarm across the whole screen: what, by when, what happens otherwise; seen, later, and the way to the deed. */

import { snooze } from "../ring/ring.ts";
import { markSeen } from "../store/acts/logs.ts";
import { ringing, type WarningRow } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { say, sayOf } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { canWork, left, linksFrom, live, productName, text, when, zoneName } from "./know.ts";
import { to } from "./router.ts";
import { attempt } from "./said.tsx";

const LATER_MIN = 10;
const TONES: Record<string, string> = {
  recoat_open: "open",
  sandable: "open",
  immerse_open: "open",
  recoat_closing: "closing",
  pot_life_ending: "closing",
  immerse_closing: "closing",
};

/** The instant by which something has to be done: the last good start of a coat, else the closing. */
function byWhen({ params, clock, due_at }: WarningRow): number {
  const known = [params.last_start_at, params.closes_at].map((at) => Date.parse(String(at ?? "")));
  const [start = Number.NaN, closes = Number.NaN] = known;
  if (start > now.value) return start;
  if (!Number.isNaN(closes)) return closes;
  return clock.kind.endsWith("opens") || clock.kind === "sandable" ? due_at : (clock.at ?? due_at);
}

const byWords = (by: number) =>
  by > now.value ? say("alarm.by", { when: when(by) }) : say("clock.since", { when: when(by) });

const place = (row: WarningRow) =>
  [
    zoneName(row.clock.zone_id),
    row.clock.step_title || row.clock.job_title,
    row.clock.source === "mix" ? productName(row.clock.product_id) : "",
  ]
    .filter(Boolean)
    .join(", ");

/** The step that goes on the coat that rings, when it is not begun yet. */
function following(row: WarningRow): string | null {
  if (!row.clock.step_id) return null;
  const next = linksFrom(row.clock.step_id)
    .map((link) => live("step", text(link, "step_id")))
    .find((step) => step !== undefined);
  return next?.id ?? null;
}

export function Notice() {
  const [row, ...more] = ringing.value;
  return (
    <>
      <div class="unseen" role="alert">
        {row && `${sayOf("alarm_what", row.kind)} ${place(row)}, ${byWords(byWhen(row))}`}
      </div>
      {row && <OneNotice row={row} more={more.length} />}
    </>
  );
}

function OneNotice({ row, more }: { row: WarningRow; more: number }) {
  const by = byWhen(row);
  const next = following(row);
  // Who goes to do it has seen it.
  const seen = () => void attempt(() => markSeen(row.alarm_id), "");
  const coat = canWork() && (row.kind === "recoat_open" || row.kind === "recoat_closing");
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
      <p class="notice-place">{place(row)}</p>
      <p class="notice-by figures" data-testid="alarm-by">
        {byWords(by)} <span class="notice-left">{left(by)}</span>
      </p>
      <p>{sayOf("alarm_else", row.kind)}</p>
      <div class="buttons">
        {coat && next && (
          <a
            class="button button-wide"
            href={to("log", "coat", next)}
            onClick={seen}
            data-testid="alarm-do"
          >
            {say("do.next_coat")}
          </a>
        )}
        {!(coat && next) && row.clock.job_id && (
          <a
            class="button button-wide"
            href={to("job", row.clock.job_id)}
            onClick={seen}
            data-testid="alarm-do"
          >
            {say("alarm.go")}
          </a>
        )}
        <button type="button" class="button" data-testid="alarm-seen" onClick={seen}>
          {say("alarm.seen")}
        </button>
        <button
          type="button"
          class="button"
          data-testid="alarm-later"
          onClick={() => snooze(row.alarm_id, LATER_MIN)}
        >
          {say("alarm.later")}
        </button>
      </div>
      {more > 0 && <p class="strong">{say("alarm.more", { n: more })}</p>}
    </section>
  );
}
