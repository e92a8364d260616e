/**
 * One coat or pot and its clocks, like a line of a tide table: the instant that counts in large figures, what it is,
 * how long is left, and the window with the present marked in it.
 */
import type { ClockRow } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { dayInWords, timeOf } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";
import { jobPlace, left, memberName, productName, when, yardZone } from "./know.ts";
import { to } from "./router.ts";
import { type Counting, counting, type Source } from "./sources.ts";
import { WindowBar } from "./windowbar.tsx";

export function ClockCard({ source }: { source: Source }) {
  const count = counting(source, now.value);
  const { first, rows } = source;
  const pot = first.source === "mix";
  const closes = pot ? count.row.at : (rows.get("recoat_closes")?.at ?? null);
  const opens = pot ? null : (rows.get("recoat_opens")?.at ?? null);
  return (
    <article class="clock" data-tone={count.tone} data-testid="clock" data-root={source.root_id}>
      <p class="clock-word" data-testid="clock-word">
        {say(count.word)}
      </p>
      <Figure count={count} />
      {(closes ?? opens) !== null && (
        <WindowBar start={first.started_at} opens={opens} closes={closes} pot={pot} />
      )}
      <Where row={first} />
      <Basis rows={[...rows.values()]} />
      <Tides rows={[...rows.values()].filter((row) => row !== count.row || count.at !== row.at)} />
      <p class="quiet">
        {say("clock.from", { when: when(first.started_at) })}, {memberName(first.member_id)}
      </p>
    </article>
  );
}

/** The instant that counts, large, and how long is left until it. */
function Figure({ count }: { count: Counting }) {
  const { at, stage } = count;
  return (
    <div class="clock-main">
      {at !== null && (
        <p class="clock-figure figures" data-testid="clock-at">
          <span class="clock-day">{dayInWords(at, now.value, yardZone())}</span>{" "}
          <span class="clock-time">{timeOf(at, yardZone())}</span>
        </p>
      )}
      <div class="clock-what">
        <h3>{sayOf("stage", stage)}</h3>
        {at === null ? (
          <p>{say("clock.unknown")}</p>
        ) : (
          <p class="clock-left figures" data-testid="clock-left">
            {left(at)}
          </p>
        )}
      </div>
    </div>
  );
}

function Where({ row }: { row: ClockRow }) {
  const place = jobPlace(row.zone_id, row.job_title);
  return (
    <>
      {place && (
        <p class="clock-place">
          {row.job_id ? <a href={to("job", row.job_id)}>{place}</a> : place}
        </p>
      )}
      <p>{[row.step_title, productName(row.product_id)].filter(Boolean).join(" · ")}</p>
    </>
  );
}

/** What the answer rests on, wherever it is less than the data sheet and a fresh reading. */
function Basis({ rows }: { rows: ClockRow[] }) {
  const marks = new Set<string>();
  for (const row of rows) {
    if (row.at === null) continue;
    if (row.basis !== "data_sheet") marks.add(row.basis);
    if (row.stale) marks.add("stale");
  }
  if (marks.size === 0) return null;
  return (
    <ul class="marks">
      {[...marks].map((mark) => (
        <li key={mark} data-testid={`basis-${mark}`}>
          {mark === "stale" ? (
            <a href={to("log", "reading")}>{say("basis.stale")}</a>
          ) : (
            sayOf("basis", mark)
          )}
        </li>
      ))}
    </ul>
  );
}

/** The other stages, in order of time; those that are reached carry a tick. */
function Tides({ rows }: { rows: ClockRow[] }) {
  const known = rows.filter((row) => row.at !== null).sort((a, b) => (a.at ?? 0) - (b.at ?? 0));
  if (known.length === 0) return null;
  return (
    <ul class="tides figures">
      {known.map((row) => (
        <li key={row.kind}>
          <span>
            {!row.running && "✓ "}
            {sayOf("stage", row.kind)}
          </span>{" "}
          <span>{when(row.at ?? 0)}</span>
        </li>
      ))}
    </ul>
  );
}
