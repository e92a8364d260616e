/** A coat: started now, ended now, or already on. The step's own product and place are filled in. */
import { useState } from "preact/hooks";
import { AirLine } from "../../parts/airline.tsx";
import { Care } from "../../parts/care.tsx";
import { More, NumberField, Pick, readNumbers, TextField } from "../../parts/fields.tsx";
import {
  DONE,
  flag,
  isApplied,
  item,
  linksTo,
  live,
  openCoat,
  productName,
  stepName,
  text,
  when,
  yardZone,
} from "../../parts/know.ts";
import { later } from "../../parts/later.tsx";
import { back, go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { WhenField } from "../../parts/when.tsx";
import { correct, endCoat, logCoat, markStep, startCoat } from "../../store/acts/index.ts";
import { clocks, stepStates } from "../../store/derived.ts";
import { now } from "../../store/now.ts";
import { type RecordRow, view } from "../../store/view.ts";
import { timeOf, typed } from "../../words/dates.ts";
import { say, sayOf } from "../../words/index.ts";
import type { LogForm } from "./log.tsx";
import { likelyStep, NEXT, ProductPick, StepPick, ZonePick } from "./places.tsx";

const MayCoat = later(async () => (await import("../job/readiness.tsx")).mayCoat());

interface Draft {
  step: string;
  product: string;
  zone: string;
  mix: string;
  area: string;
  film: string;
  remark: string;
  start: number | null;
  end: number | null;
}

const instant = (value: unknown) => (typeof value === "string" ? Date.parse(value) : null);

/** What a step says of its coat before anything is typed. */
function expected(step_id: string): Draft {
  const step = item("step", step_id);
  const zone = text(item("job", text(step, "job_id")), "zone_id");
  return {
    step: step_id,
    product: text(step, "product_id"),
    zone,
    mix: "",
    area: typed(item("zone", zone)?.fields.area_m2),
    film: "",
    remark: "",
    start: null,
    end: null,
  };
}

function logged(row: RecordRow): Draft {
  const { body } = row;
  return {
    step: String(body.step_id ?? ""),
    product: String(body.product_id ?? ""),
    zone: String(body.zone_id ?? ""),
    mix: String(body.mix_id ?? ""),
    area: typed(body.area_m2),
    film: typed(body.film_wet_um),
    remark: String(body.text ?? ""),
    start: instant(body.start_at),
    end: instant(body.end_at),
  };
}

const iso = (ms: number) => new Date(ms).toISOString();

export function CoatForm({ about, row }: LogForm) {
  const [draft, setDraft] = useState<Draft>(() =>
    row ? logged(row) : expected(about || likelyStep(isApplied, NEXT)),
  );
  const [tried, setTried] = useState(false);
  const put = (part: Partial<Draft>) => setDraft({ ...draft, ...part });
  const read = readNumbers({
    area: { text: draft.area, least: 0, most: 10_000 },
    film: { text: draft.film, least: 0, most: 20_000 },
  });
  const whole = draft.step !== "" && draft.product !== "" && read.good;
  const need = (value: string) => (tried && !value ? say("problem.missing") : undefined);
  const open = row ? undefined : openCoat(draft.step);
  const verdict = below(draft.step);
  const body = {
    product_id: draft.product,
    zone_id: draft.zone || null,
    ...(draft.mix ? { mix_id: draft.mix } : {}),
    ...(read.values.area === undefined ? {} : { area_m2: read.values.area }),
    ...(read.values.film === undefined ? {} : { film_wet_um: read.values.film }),
    ...(draft.remark ? { text: draft.remark } : {}),
  };
  const start = async () => {
    setTried(true);
    if (!whole) return;
    const said = say("said.coat_started", { when: when(now.value) });
    if (await attempt(() => startCoat(draft.step, body), said)) go("now");
  };
  return (
    <div class="form narrow">
      {!row && (
        <StepPick
          applied
          value={draft.step}
          onPick={(step) => setDraft(expected(step))}
          none={draft.step ? undefined : say("log.choose_step")}
          wrong={need(draft.step)}
        />
      )}
      <ProductPick
        value={draft.product}
        onPick={(product) => put({ product })}
        wrong={need(draft.product)}
      />
      {!row && !open && verdict && (
        <p class="verdict" data-tone={verdict.tone} data-testid="recoat-verdict">
          {verdict.words}
        </p>
      )}
      {!row && !open && <AirLine product_id={draft.product} />}
      {!row && !open && draft.step && <MayCoat key={draft.step} path={[draft.step]} />}
      {open && <EndNow step_id={draft.step} open={open} />}
      {!row && !open && (
        <button
          type="button"
          class="button button-main"
          data-tone={verdict ? verdict.tone : "open"}
          data-testid="coat-start"
          onClick={start}
        >
          {say("coat.start_now")}
        </button>
      )}
      <Care product_id={draft.product} />
      {row ? (
        <CoatTimes draft={draft} put={put}>
          <CoatRest draft={draft} put={put} wrong={read.wrong} />
          <SaveCorrected row={row} draft={draft} body={body} whole={whole} />
        </CoatTimes>
      ) : (
        !open && (
          <>
            <More label={say("log.other_values")} testid="coat-more">
              <CoatRest draft={draft} put={put} wrong={read.wrong} />
            </More>
            <More label={say("coat.log_past")} testid="coat-past">
              <CoatTimes draft={draft} put={put}>
                <SavePast draft={draft} body={body} whole={whole} onTry={() => setTried(true)} />
              </CoatTimes>
            </More>
          </>
        )
      )}
    </div>
  );
}

type Put = (part: Partial<Draft>) => void;

function CoatRest({
  draft,
  put,
  wrong,
}: {
  draft: Draft;
  put: Put;
  wrong: Partial<Record<"area" | "film", string>>;
}) {
  const mixes = view.value.records("mix").slice(-8).reverse();
  return (
    <>
      <ZonePick value={draft.zone} onPick={(zone) => put({ zone })} none={say("work.no_zone")} />
      <div class="numbers">
        <NumberField
          label={say("coat.area")}
          value={draft.area}
          onInput={(area) => put({ area })}
          unit={say("unit.m2")}
          wrong={wrong.area}
        />
        <NumberField
          label={say("coat.film_wet")}
          value={draft.film}
          onInput={(film) => put({ film })}
          unit={say("unit.um")}
          wrong={wrong.film}
        />
      </div>
      {mixes.length > 0 && (
        <Pick
          label={say("coat.mix")}
          value={draft.mix}
          options={mixes.map((mix) => ({
            value: mix.id,
            label: `${timeOf(Date.parse(String(mix.body.stirred_at)), yardZone())} ${productName(String(mix.body.product_id))}`,
          }))}
          none={say("go.none")}
          onPick={(mix) => put({ mix })}
        />
      )}
      <TextField
        long
        label={say("coat.text")}
        value={draft.remark}
        onInput={(remark) => put({ remark })}
      />
    </>
  );
}

function wrongTimes({ start, end }: Draft): string | undefined {
  const from = start ?? now.value;
  if (from > now.value + 60_000 || (end ?? 0) > now.value + 60_000) return say("coat.future");
  return end !== null && end < from ? say("coat.end_first") : undefined;
}

function CoatTimes(props: { draft: Draft; put: Put; children: preact.ComponentChildren }) {
  const { draft, put } = props;
  return (
    <div class="form">
      <WhenField
        label={say("coat.started")}
        value={draft.start}
        onChange={(start) => put({ start })}
        testid="coat-started"
      />
      <WhenField
        label={say("coat.ended")}
        value={draft.end}
        onChange={(end) => put({ end })}
        wrong={wrongTimes(draft)}
        testid="coat-ended"
      />
      {props.children}
    </div>
  );
}

interface Save {
  draft: Draft;
  body: Parameters<typeof startCoat>[1];
  whole: boolean;
}

function SavePast({ draft, body, whole, onTry }: Save & { onTry: () => void }) {
  const save = async () => {
    onTry();
    if (!whole || wrongTimes(draft)) return;
    const start_at = iso(draft.start ?? now.value);
    const end_at = iso(draft.end ?? now.value);
    const done = await attempt(async () => {
      await logCoat(draft.step, { ...body, start_at, end_at });
      await markStep(draft.step, "finished");
    }, say("said.coat_logged"));
    if (done) go("now");
  };
  return (
    <button type="button" class="button button-main" onClick={save} data-testid="coat-save-past">
      {say("coat.save_past")}
    </button>
  );
}

function SaveCorrected({ row, draft, body, whole }: Save & { row: RecordRow }) {
  const save = async () => {
    if (!whole || wrongTimes(draft)) return;
    const start_at = iso(draft.start ?? now.value);
    const ended = draft.end !== null || row.body.end_at;
    const end_at = ended ? iso(draft.end ?? now.value) : null;
    const cleared = { area_m2: null, film_wet_um: null, mix_id: null, text: null };
    const done = await attempt(
      () =>
        correct("application", row.id, { ...cleared, ...body, start_at, end_at } as Parameters<
          typeof correct
        >[2]),
      say("said.corrected"),
    );
    if (done) back("now");
  };
  return (
    <button type="button" class="button button-main" onClick={save} data-testid="save">
      {say("go.save")}
    </button>
  );
}

/** A coat on this step is still going on: end it. */
function EndNow({ step_id, open }: { step_id: string; open: RecordRow }) {
  const finish = async () => {
    const done = await attempt(
      async () => {
        await endCoat(open.root_id);
        await markStep(step_id, "finished");
      },
      say("said.coat_ended", { when: when(now.value) }),
    );
    if (done) go("now");
  };
  return (
    <>
      <p class="strong">{say("clock.since", { when: when(String(open.body.start_at)) })}</p>
      <button
        type="button"
        class="button button-main"
        data-tone="closing"
        data-testid="coat-end"
        onClick={finish}
      >
        {sayOf("end", text(item("step", step_id), "kind"))}
      </button>
    </>
  );
}

interface Verdict {
  tone: "open" | "waiting" | "gone";
  words: string;
}

/** What the coat below says: too early, open until, or closed. Nothing is forbidden, everything is said. */
function below(step_id: string): Verdict | null {
  const links = linksTo(step_id).filter((link) => live("step", text(link, "after_id")));
  const waits = links
    .filter((link) => !flag(link, "by_cure"))
    .map((link) => text(link, "after_id"))
    .find((id) => !DONE.has(stepStates.value.get(id) ?? ""));
  if (waits) {
    const words = say("coat.waits", { step: stepName(item("step", waits)) });
    return { tone: "waiting", words };
  }
  const before = links
    .filter((link) => flag(link, "by_cure"))
    .map((link) => text(link, "after_id"));
  const rows = clocks.value.filter((row) => before.includes(row.step_id ?? ""));
  const instants = (kind: string) =>
    rows.filter((row) => row.kind === kind).flatMap((row) => row.last_start_at ?? row.at ?? []);
  const opens = Math.max(0, ...instants("recoat_opens"));
  const closes = Math.min(Number.POSITIVE_INFINITY, ...instants("recoat_closes"));
  if (opens > now.value)
    return { tone: "waiting", words: say("coat.not_open", { when: when(opens) }) };
  if (closes <= now.value)
    return { tone: "gone", words: say("coat.closed", { when: when(closes) }) };
  if (closes === Number.POSITIVE_INFINITY) return null;
  return { tone: "open", words: say("coat.open", { when: when(closes) }) };
}
