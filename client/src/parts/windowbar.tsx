/**
 * A window on a line of time: hatched while it is not open yet, solid while it is, and a mark where we are now.
 * The same in words for those who do not see it.
 */
import { timeOf } from "../words/dates.ts";
import { say } from "../words/index.ts";
import { when, yardZone } from "./know.ts";

export function WindowBar(props: {
  start: number;
  opens: number | null;
  closes: number | null;
  now: number;
}) {
  const { start, opens, closes, now } = props;
  const last = closes ?? opens ?? now;
  const end = Math.max(last + (last - start) * 0.06, start + 60_000);
  const share = (ms: number) => Math.min(100, Math.max(0, ((ms - start) / (end - start)) * 100));
  const from = share(opens ?? start);
  const till = share(closes ?? end);
  const here = share(now);
  const zone = yardZone();
  return (
    <div class="window figures">
      <svg class="window-bar" role="img" aria-label={barInWords(props)} width="100%" height="34">
        <title>{barInWords(props)}</title>
        <line class="window-rule" x1="0" x2="100%" y1="30" y2="30" />
        {from > 0 && <rect class="window-shut" x="0" y="10" width={`${from}%`} height="16" />}
        <rect
          class="window-open"
          x={`${from}%`}
          y="8"
          width={`${Math.max(0, till - from)}%`}
          height="20"
        />
        <svg x={`${here}%`} y="0" overflow="visible" aria-hidden="true">
          <path class="window-now" d="M0 8L-8 -3H8zM0 0V34" />
        </svg>
      </svg>
      <p class="window-ends" aria-hidden="true">
        <span>{timeOf(start, zone)}</span>
        {opens !== null && from > 18 && from < 80 && <span>{timeOf(opens, zone)}</span>}
        {closes !== null && <span>{timeOf(closes, zone)}</span>}
      </p>
    </div>
  );
}

function barInWords({ start, opens, closes, now }: Parameters<typeof WindowBar>[0]): string {
  const end = closes ?? opens ?? now;
  const part =
    end > start ? Math.round(Math.min(1, Math.max(0, (now - start) / (end - start))) * 100) : 100;
  return say("clock.bar", { from: when(start), to: when(end), part });
}
