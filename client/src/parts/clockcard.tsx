/**
 * One coat or pot and its clocks, like a line of a tide table: the instant that counts in large figures, what it is,
 * how long is left, and the window with the present marked in it.
 */
import { type ClockRow, clocks } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { dayInWords, span, timeOf } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";
import { left, memberName, when, yardZone, zonePath } from "./know.ts";
import { to } from "./router.ts";
import { WindowBar } from "./windowbar.tsx";

const CLOSING_MS = 60 * 60_000;
const POT_CLOSING_MS = 10 * 60_000;

/** All clocks of one coat or pot, by their kind. */
export interface Source {
  root_id: string;
  rows: Map<string, ClockRow>;
  first: ClockRow;
}

/** Bring clocks together by what they belong to, what is due first in front. */
export function sourcesOf(rows: readonly ClockRow[]): Source[] {
  const found = new Map<string, Source>();
  for (const row of rows) {
    const source = found.get(row.root_id) ?? { root_id: row.root_id, rows: new Map(), first: row };
    source.rows.set(row.kind, row);
    found.set(row.root_id, source);
  }
  return [...found.values()].sort((a, b) => (dueAt(a) ?? Infinity) - (dueAt(b) ?? Infinity));
}

/** Those of which some clock still runs. */
export const runningSources = (rows: readonly ClockRow[]) =>
  sourcesOf(clocks.value.filter((row) => rows.some((one) => one.root_id === row.root_id))).filter(
    (source) => [...source.rows.values()].some((row) => row.running),
  );

const at = (source: Source, kind: string) => source.rows.get(kind)?.at ?? null;

/** The clock that counts now: the pot's end, the opening that lies ahead, else the closing. */
function leading(source: Source): ClockRow | undefined {
  const rows = source.rows;
  if (source.first.source === "mix") return rows.get("pot_life") ?? rows.get("gel") ?? source.first;
  const order = ["recoat_opens", "recoat_closes", "immerse_opens", "immerse_closes", "sandable"];
  const ahead = order.map((kind) => rows.get(kind)).filter((row) => row?.running);
  return ahead[0] ?? rows.get("recoat_closes") ?? rows.get("recoat_opens") ?? source.first;
}

const dueAt = (source: Source) => leading(source)?.at ?? null;

interface Standing {
  word: string;
  tone: string;
}

function standing(row: ClockRow, opened: boolean): Standing {
  const closes = row.kind.endsWith("closes") || row.source === "mix";
  if (!closes)
    return row.running
      ? { word: say("clock.not_yet"), tone: "waiting" }
      : { word: say("clock.open_now"), tone: "open" };
  if (row.at === null) return { word: say("clock.open_now"), tone: "open" };
  if (row.at <= now.value) return { word: say("clock.gone"), tone: "gone" };
  const soon = row.source === "mix" ? POT_CLOSING_MS : CLOSING_MS;
  if (row.at - now.value <= soon) return { word: say("clock.closing"), tone: "closing" };
  return { word: say(opened ? "clock.open_now" : "clock.pot_runs"), tone: "open" };
}

export function ClockCard({ source }: { source: Source }) {
  const row = leading(source);
  if (!row) return null;
  const { word, tone } = standing(row, source.first.source !== "mix");
  const { step_title, job_title, zone_id, product_name, job_id } = source.first;
  const rest = [...source.rows.values()].filter((one) => one !== row && one.at !== null);
  const start = source.first.started_at;
  const end = source.first.source === "mix" ? row.at : at(source, "recoat_closes");
  const opens = source.first.source === "mix" ? null : at(source, "recoat_opens");
  return (
    <article class="clock" data-tone={tone} data-testid="clock" data-root={source.root_id}>
      <p class="clock-word" data-testid="clock-word">
        {word}
      </p>
      <div class="clock-main">
        {row.at !== null && (
          <p class="clock-figure figures" data-testid="clock-at">
            <span class="clock-day">{dayInWords(row.at, now.value, yardZone())}</span>{" "}
            <span class="clock-time">{timeOf(row.at, yardZone())}</span>
          </p>
        )}
        <div class="clock-what">
          <h3>{sayOf("stage", row.kind)}</h3>
          {row.at !== null && (
            <p class="clock-left figures" data-testid="clock-left">
              {left(row.at)}
            </p>
          )}
          {row.at === null && <p>{say("clock.unknown")}</p>}
        </div>
      </div>
      {(end ?? opens ?? row.at) !== null && (
        <WindowBar start={start} opens={opens} closes={end} now={now.value} />
      )}
      <p class="clock-place">
        {job_id ? (
          <a href={to("job", job_id)}>
            {[zonePath(zone_id), job_title].filter(Boolean).join(": ")}
          </a>
        ) : (
          zonePath(zone_id)
        )}
      </p>
      <p>{[step_title, product_name].filter(Boolean).join(" · ")}</p>
      <Basis rows={[...source.rows.values()]} />
      {rest.length > 0 && (
        <ul class="tides figures">
          {rest
            .sort((a, b) => (a.at ?? 0) - (b.at ?? 0))
            .map((one) => (
              <li key={one.kind}>
                <span>{sayOf("stage", one.kind)}</span> <span>{when(one.at ?? 0)}</span>
              </li>
            ))}
        </ul>
      )}
      <p class="quiet">
        {say("clock.from", { when: when(start) })}, {memberName(source.first.member_id)}
        {row.fast_at !== null && row.slow_at !== null && row.slow_at - row.fast_at > 60_000 && (
          <> ({say("clock.between", { early: when(row.fast_at), late: when(row.slow_at) })})</>
        )}
      </p>
    </article>
  );
}

/** What the answer rests on, wherever it is less than the data sheet and a fresh reading. */
function Basis({ rows }: { rows: ClockRow[] }) {
  const marks = new Set<string>();
  for (const row of rows) {
    if (row.at === null) continue;
    if (row.basis !== "data_sheet") marks.add(row.basis);
    if (row.reasons.some((reason) => reason.includes("stale"))) marks.add("stale");
  }
  if (marks.size === 0) return null;
  return (
    <ul class="marks">
      {[...marks].map((mark) => (
        <li key={mark} data-testid={`basis-${mark}`}>
          {sayOf("basis", mark)}
          {mark === "stale" && (
            <>
              {" "}
              <a href={to("log", "reading")}>{say("log.reading")}</a>
            </>
          )}
        </li>
      ))}
    </ul>
  );
}

/** One line: `recoat closes today 14:20, 75 min left`. */
export const clockLine = (row: ClockRow) =>
  row.at === null
    ? ""
    : `${sayOf("stage", row.kind)} ${when(row.at)}${row.running ? `, ${span(row.at - now.value)}` : ""}`;
