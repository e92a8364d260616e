/** Records in words, in order of time, with what they corrected. */
import { useState } from "preact/hooks";
import { voidRecord } from "../store/acts/index.ts";
import { now } from "../store/now.ts";
import { me, type RecordRow, view } from "../store/view.ts";
import { number, span, writtenDay } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";
import { Icon, type IconName } from "./icon.tsx";
import {
  authorName,
  canWork,
  isOwner,
  item,
  memberName,
  productName,
  stampMs,
  stepName,
  when,
  yardZone,
  zoneName,
} from "./know.ts";
import { later } from "./later.tsx";
import { Ask } from "./page.tsx";
import { Photo } from "./photo.tsx";
import { to } from "./router.ts";
import { attempt } from "./said.tsx";

const KeptSum = later(async () => (await import("../screens/sums/door.ts")).keptSum());

export const RECORD_KINDS = [
  "application",
  "mix",
  "reading",
  "note",
  "photo",
  "hours",
  "mark",
  "sum",
] as const;

const ICONS: Record<string, IconName> = {
  application: "coat",
  mix: "mix",
  reading: "reading",
  note: "note",
  photo: "photo",
  hours: "hours",
  mark: "tick",
  sum: "sums",
};

const ABOUT: Record<string, string> = {
  application: "start_at",
  mix: "stirred_at",
  reading: "taken_at",
  photo: "taken_at",
  mark: "marked_at",
};

/** When it happened; when it was written down, for records that say no more. */
export function happenedAt(row: RecordRow): number {
  const said = row.body[ABOUT[row.kind] ?? ""];
  return typeof said === "string" ? Date.parse(said) : stampMs(row.at);
}

const num = (row: RecordRow, name: string): string | null =>
  typeof row.body[name] === "number" ? number(row.body[name] as number) : null;

const part = (key: Parameters<typeof say>[0], n: string | null) =>
  n === null ? "" : say(key, { n });

/** A record in one line. */
export function inWords(row: RecordRow): string {
  const body = row.body;
  const product = productName(body.product_id as string);
  switch (row.kind) {
    case "application": {
      const start = when(String(body.start_at));
      return body.end_at
        ? say("record.coat_line", { product, start, end: when(String(body.end_at)) })
        : say("record.going_on", { product, start });
    }
    case "mix":
      return [
        say("record.mix_line", {
          product,
          base: num(row, "base_g") ?? "?",
          hardener: num(row, "hardener_g") ?? "?",
        }),
        part("record.temp", num(row, "temp_c")),
      ]
        .filter(Boolean)
        .join(", ");
    case "reading":
      return [
        part("record.air", num(row, "air_c")),
        part("record.surface", num(row, "surface_c")),
        part("record.rh", num(row, "rh_pct")),
      ]
        .filter(Boolean)
        .join(", ");
    case "hours":
      return say("record.hours_line", {
        name: memberName(body.member_id as string),
        span: span(Number(body.minutes) * 60_000),
        day: writtenDay(String(body.worked_on), now.value, yardZone()),
      });
    case "mark":
      return sayOf("record", `mark_${body.mark}`);
    case "sum":
      return "";
    default:
      return String(body.text ?? "");
  }
}

const CORRECTABLE = new Set(["application", "mix", "reading", "note", "hours", "sum"]);

/** Those may be taken back or corrected who wrote them, and the owner. */
const mayCorrect = (row: RecordRow) =>
  canWork() && (isOwner() || view.value.author(row.at)?.id === me.value?.member_id);

export function Records(props: {
  rows: RecordRow[];
  /** Say where it belongs. */
  place?: boolean;
  /** In the order in which they were written down, not in that in which things happened. */
  arrived?: boolean;
}) {
  const { rows, place, arrived } = props;
  const sorted = arrived ? rows : [...rows].sort((a, b) => happenedAt(b) - happenedAt(a));
  return (
    <ul class="records">
      {sorted.map((row) => (
        <RecordLine key={row.root_id} row={row} place={place ?? false} />
      ))}
    </ul>
  );
}

function RecordLine({ row, place }: { row: RecordRow; place: boolean }) {
  const before = view.value
    .allRecords(row.kind)
    .filter((one) => one.root_id === row.root_id && one.id !== row.id);
  return (
    <li class="record fresh" data-testid="record" data-kind={row.kind} data-id={row.id}>
      <Icon name={ICONS[row.kind] ?? "note"} />
      <div>
        <p>
          <span class="strong">
            {sayOf("record", row.kind === "application" ? "coat" : row.kind)}
          </span>
          {inWords(row) && <>: {inWords(row)}</>}
        </p>
        {place && <Place row={row} />}
        {row.kind !== "photo" && typeof row.body.text === "string" && row.kind !== "note" && (
          <p>{row.body.text}</p>
        )}
        {row.kind === "photo" && <Photo row={row} />}
        {row.kind === "sum" && <KeptSum path={[row.id]} />}
        <p class="quiet">
          {say("record.by", { name: authorName(row.at), when: when(happenedAt(row)) })}
          {before.length > 0 && `, ${say("record.corrected")}`}
          {view.value.waitingFor(row.id) && `, ${say("sync.wait_mark")}`}
        </p>
        {before.length > 0 && <Before rows={before} />}
        {mayCorrect(row) && !place && row.kind !== "mark" && <Mend row={row} />}
      </div>
    </li>
  );
}

function Place({ row }: { row: RecordRow }) {
  const step = item("step", row.body.step_id as string);
  const job = item("job", (row.body.job_id ?? step?.fields.job_id) as string);
  const zone = (row.body.zone_id ?? job?.fields.zone_id) as string;
  const words = [zoneName(zone), job && String(job.fields.title), step && stepName(step)]
    .filter(Boolean)
    .join(": ");
  if (!words) return null;
  return <p>{job ? <a href={to("job", job.id)}>{words}</a> : words}</p>;
}

function Before({ rows }: { rows: RecordRow[] }) {
  return (
    <details>
      <summary>{say("record.was")}</summary>
      <ul>
        {rows.map((row) => (
          <li key={row.id} class="record-before">
            {row.kind === "sum" ? <KeptSum path={[row.id]} /> : <s>{inWords(row)}</s>}{" "}
            <span class="quiet">
              {say("record.by", { name: authorName(row.at), when: when(stampMs(row.at)) })}
            </span>
          </li>
        ))}
      </ul>
    </details>
  );
}

function Mend({ row }: { row: RecordRow }) {
  const [asking, setAsking] = useState(false);
  const takeBack = () =>
    attempt(() => voidRecord(row.kind, row.id), say("said.taken_back")).then(() =>
      setAsking(false),
    );
  if (asking)
    return (
      <Ask
        question={say("go.void_sure")}
        yes={say("go.void")}
        onYes={takeBack}
        onNo={() => setAsking(false)}
      />
    );
  return (
    <div class="buttons buttons-left">
      {CORRECTABLE.has(row.kind) && (
        <a
          class="button button-line"
          href={to("log", "correct", row.kind, row.id)}
          data-testid="correct"
        >
          {say("go.correct")}
        </a>
      )}
      <button
        type="button"
        class="button button-line"
        onClick={() => setAsking(true)}
        data-testid="take-back"
      >
        {say("go.void")}
      </button>
    </div>
  );
}
