/**
 * A window on a line of time: hatched while it is shut or used up, solid while it is open, and a mark where we are now.
 * The same in words for those who do not see it.
 */
import { now } from "../store/now.ts";
import { shortWhen } from "../words/dates.ts";
import { say } from "../words/index.ts";
import { when, yardZone } from "./know.ts";

interface Window {
  start: number;
  opens: number | null;
  closes: number | null;
  /** A pot is open from the start and is used up as time goes. */
  pot: boolean;
}

export function WindowBar(props: Window) {
  const { start, opens, closes, pot } = props;
  const last = closes ?? opens ?? now.value;
  const end = Math.max(closes === null ? last + (last - start) * 0.4 : last, start + 60_000);
  const share = (ms: number) => Math.min(100, Math.max(0, ((ms - start) / (end - start)) * 100));
  const here = share(now.value);
  const from = pot ? here : share(opens ?? start);
  const short = (ms: number) => shortWhen(ms, now.value, yardZone());
  return (
    <div class="window figures">
      <svg class="window-bar" role="img" aria-label={barInWords(props)} width="100%" height="36">
        <line class="window-rule" x1="0" x2="100%" y1="32" y2="32" />
        {from > 0 && <rect class="window-shut" x="1" y="13" width={`${from}%`} height="16" />}
        <rect class="window-open" x={`${from}%`} y="12" width={`${100 - from}%`} height="18" />
        <svg x={`${here}%`} y="0" overflow="visible" aria-hidden="true">
          <path class="window-now" d="M0 11L-7 0H7zM0 8V36" />
        </svg>
      </svg>
      <p class="window-ends" aria-hidden="true">
        <span>{short(start)}</span>
        <span>{closes === null ? "" : short(closes)}</span>
      </p>
    </div>
  );
}

function barInWords({ start, opens, closes }: Window): string {
  const end = closes ?? opens ?? start;
  const gone = end > start ? (now.value - start) / (end - start) : 1;
  const part = Math.round(Math.min(1, Math.max(0, gone)) * 100);
  return say("clock.bar", { from: when(start), to: when(end), part });
}
