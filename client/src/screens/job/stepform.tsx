/** A step's own fields, and which step it comes after with which gap. */
import { useState } from "preact/hooks";
import type { Finding } from "../../clocks/job_order.ts";
import { tell } from "../../handbook/index.ts";
import { useEdit } from "../../parts/edit.ts";
import {
  Choices,
  Clash,
  More,
  NumberField,
  type Option,
  Pick,
  readNumbers,
  TextField,
  Tick,
} from "../../parts/fields.tsx";
import { STEP_KINDS } from "../../parts/kinds.ts";
import {
  APPLIED,
  amount,
  flag,
  linksTo,
  productName,
  stepName,
  stepsOf,
  text,
} from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import { addStep, linkSteps, setFields } from "../../store/acts/index.ts";
import { type ItemRow, type Json, view } from "../../store/view.ts";
import { typed } from "../../words/dates.ts";
import { say, sayOf } from "../../words/index.ts";
import { putBefore } from "./first.tsx";
import {
  belowJob,
  isRefused,
  madeWrong,
  type Planned,
  plannedIn,
  plannedOf,
  withStep,
} from "./order.ts";
import { holdAll, holdOf, OrderThere, type Put } from "./orderfound.tsx";

interface Draft {
  kind: string;
  title: string;
  how: string;
  product: string;
  tack: boolean;
  labour: string;
  people: string;
  after: string;
  gap: "any" | "cure" | "fixed";
  least_h: string;
  most_h: string;
}

/** A step of a job that is being written: it follows the last one, by its cure where that is a coat. */
function fresh(job_id: string): Draft {
  const before = stepsOf(job_id).at(-1);
  const cures = before !== undefined && APPLIED.has(text(before, "kind"));
  return {
    kind: before ? text(before, "kind") : "sand",
    title: "",
    how: "",
    product: text(before, "product_id"),
    tack: false,
    labour: "",
    people: "1",
    after: before?.id ?? "",
    gap: cures ? "cure" : "any",
    least_h: "",
    most_h: "",
  };
}

const shown = (value: number | null, by = 1) => (value ? typed(value / by) : "");

function draftOf(step: ItemRow): Draft {
  const link = linksTo(step.id)[0];
  const least = amount(link, "min_gap_s");
  const most = amount(link, "max_gap_s");
  return {
    kind: text(step, "kind"),
    title: text(step, "title"),
    how: text(step, "text"),
    product: text(step, "product_id"),
    tack: flag(step, "tack"),
    labour: shown(amount(step, "labour_h")),
    people: shown(amount(step, "crew_size")),
    after: text(link, "after_id"),
    gap: flag(link, "by_cure") ? "cure" : least || most ? "fixed" : "any",
    least_h: shown(least, 3600),
    most_h: shown(most, 3600),
  };
}

const read = (draft: Draft) =>
  readNumbers({
    labour: { text: draft.labour, least: 0, most: 2000 },
    people: { text: draft.people, least: 1, most: 50, needed: true },
    least_h: { text: draft.gap === "fixed" ? draft.least_h : "", least: 0, most: 9600 },
    most_h: { text: draft.gap === "fixed" ? draft.most_h : "", least: 0, most: 9600 },
  });

function fieldsOf(draft: Draft): Record<string, Json> {
  const { values } = read(draft);
  return {
    kind: draft.kind,
    title: draft.title.trim(),
    text: draft.how,
    product_id: draft.product || null,
    tack: isTack(draft),
    labour_h: values.labour ?? null,
    crew_size: Math.round(values.people ?? 1),
  };
}

function gapsOf(draft: Draft) {
  const { values } = read(draft);
  return {
    min_gap_s: (values.least_h ?? 0) * 3600,
    max_gap_s: values.most_h === undefined ? null : values.most_h * 3600,
    by_cure: draft.gap === "cure",
  };
}

const NEW = "new";

/** Only a coat can be a tack coat. */
const isTack = ({ kind, tack }: Draft) => kind === "coat" && tack;

/** The step as the form has it, for the order. The form is about its first link; others stay as they are. */
function plannedFrom(draft: Draft, step?: ItemRow): Planned {
  const close = draft.gap === "cure" || gapsOf(draft).max_gap_s !== null;
  const link = draft.after ? [{ after_id: draft.after, close }] : [];
  const others = step ? plannedOf(step).before.slice(1) : [];
  return {
    ...{ id: step?.id ?? NEW, name: draft.title, kind: draft.kind, product_id: draft.product },
    tack: isTack(draft),
    before: [...link, ...others],
  };
}

/** What the form would make wrong in its job. */
function wrongBy(job_id: string, planned: Planned): Finding[] {
  const steps = plannedIn(job_id);
  return madeWrong(steps, withStep(steps, planned), belowJob(job_id));
}

export function NewStep({ job_id }: { job_id: string }) {
  const [draft, setDraft] = useState<Draft | null>(null);
  if (!draft)
    return (
      <button
        type="button"
        class="button button-wide"
        data-testid="add-step"
        onClick={() => setDraft(fresh(job_id))}
      >
        + {say("job.add_step")}
      </button>
    );
  return <Writing job_id={job_id} draft={draft} onDraft={setDraft} />;
}

function Writing(props: { job_id: string; draft: Draft; onDraft: (draft: Draft | null) => void }) {
  const { job_id, draft, onDraft } = props;
  const [refused, setRefused] = useState(false);
  const found = wrongBy(job_id, plannedFrom(draft));
  const save = async (then: { hold?: boolean; put?: Put } = {}) => {
    if (!read(draft).good) return;
    const stopped = found.some((one) => isRefused(one) && one !== then.put?.finding);
    if (stopped && !then.hold) return setRefused(true);
    const after = draft.after ? { after_id: draft.after, ...gapsOf(draft) } : {};
    const held = then.hold ? holdOf(found, NEW) : null;
    const body = { ...fieldsOf(draft), ...after, ...held } as Parameters<typeof addStep>[1];
    const deed = async () => {
      const id = await addStep(job_id, body);
      if (then.put) await putBefore(id, then.put.steps, then.put.products);
    };
    const done = await attempt(deed, held ? tell("order.held") : say("said.saved"));
    if (done) onDraft(null);
  };
  return (
    <div class="ask" data-testid="step-form">
      <h3>{say("step.new")}</h3>
      <StepFields draft={draft} onDraft={onDraft} others={stepsOf(job_id)} />
      <OrderThere
        found={found}
        refused={refused}
        step_id={NEW}
        onPut={(put) => save({ put })}
        onHold={() => save({ hold: true })}
      />
      <div class="buttons">
        <button
          type="button"
          class="button button-main"
          onClick={() => save()}
          data-testid="step-save"
        >
          {say("go.save")}
        </button>
        <button type="button" class="button" onClick={() => onDraft(null)}>
          {say("go.leave")}
        </button>
      </div>
    </div>
  );
}

export function EditStep({ step }: { step: ItemRow }) {
  return (
    <More label={say("step.edit_title")} testid="step-edit">
      <Editor step={step} />
    </More>
  );
}

function Editor({ step }: { step: ItemRow }) {
  const [before, setBefore] = useState(() => draftOf(step));
  const [draft, setDraft] = useState(before);
  const { clash, save } = useEdit(step, fieldsOf(draft));
  const others = stepsOf(text(step, "job_id")).filter((row) => row.id !== step.id);
  const [refused, setRefused] = useState(false);
  const found = wrongBy(text(step, "job_id"), plannedFrom(draft, step));
  const saveAll = async (then: { hold?: boolean; put?: Put } = {}) => {
    if (!read(draft).good) return;
    const stopped = found.some((one) => isRefused(one) && one !== then.put?.finding);
    if (stopped && !then.hold) return setRefused(true);
    if (!(await save())) return;
    const deed = async () => {
      await saveLink(step, before, draft);
      const { put } = then;
      if (put) await putBefore(put.finding.step_id, put.steps, put.products);
      if (then.hold) await holdAll(found);
    };
    const done = await attempt(deed, then.hold ? tell("order.held") : say("said.saved"));
    if (done) setBefore(draft);
  };
  return (
    <>
      <StepFields draft={draft} onDraft={setDraft} others={others} />
      <OrderThere
        found={found}
        refused={refused}
        step_id={step.id}
        onPut={(put) => saveAll({ put })}
        onHold={() => saveAll({ hold: true })}
      />
      <Clash words={clash} />
      <button
        type="button"
        class="button button-main"
        onClick={() => saveAll()}
        data-testid="step-save"
      >
        {say("go.save")}
      </button>
    </>
  );
}

/** The step's first link is the one that this form shows; others stay as they are. */
async function saveLink(step: ItemRow, before: Draft, draft: Draft): Promise<void> {
  const gaps = gapsOf(draft);
  const same = JSON.stringify(gaps) === JSON.stringify(gapsOf(before));
  if (same && draft.after === before.after) return;
  const link = linksTo(step.id)[0];
  if (!link) {
    if (draft.after) await linkSteps(step.id, draft.after, gaps);
    return;
  }
  const fields = draft.after ? { after_id: draft.after, ...gaps } : { gone: true };
  await setFields("link", link.id, fields);
}

const products = (): Option[] =>
  view.value.items("product").map((row) => ({ value: row.id, label: productName(row.id) }));

function StepFields(props: { draft: Draft; onDraft: (draft: Draft) => void; others: ItemRow[] }) {
  const { draft, onDraft, others } = props;
  const put = (part: Partial<Draft>) => onDraft({ ...draft, ...part });
  const { wrong } = read(draft);
  return (
    <>
      <Pick
        label={say("step.kind")}
        value={draft.kind}
        options={STEP_KINDS.map((value) => ({ value, label: sayOf("kind", value) }))}
        onPick={(kind) => put({ kind })}
        testid="step-kind"
      />
      <TextField
        label={say("step.title")}
        hint={say("step.title_hint")}
        value={draft.title}
        onInput={(title) => put({ title })}
        testid="step-title"
      />
      <Pick
        label={say("step.product")}
        value={draft.product}
        options={products()}
        none={say("step.product_none")}
        onPick={(product) => put({ product })}
        testid="step-product"
      />
      {draft.kind === "coat" && (
        <Tick
          label={say("step.tack")}
          checked={draft.tack}
          onTick={(tack) => put({ tack })}
          testid="step-tack"
        />
      )}
      <Pick
        label={say("step.after")}
        value={draft.after}
        options={others.map((row) => ({ value: row.id, label: stepName(row) }))}
        none={say("step.after_none")}
        onPick={(after) => put({ after })}
        testid="step-after"
      />
      {draft.after && (
        <Choices
          column
          label={say("step.gap")}
          value={draft.gap}
          options={(["any", "cure", "fixed"] as const).map((value) => ({
            value,
            label: sayOf("step", `gap_${value}`),
          }))}
          onPick={(gap) => put({ gap: gap as Draft["gap"] })}
          testid="step-gap"
        />
      )}
      {draft.after && draft.gap === "fixed" && (
        <div class="numbers">
          <NumberField
            label={say("step.min_gap")}
            value={draft.least_h}
            onInput={(least_h) => put({ least_h })}
            unit={say("unit.h")}
            wrong={wrong.least_h}
            testid="step-min-gap"
          />
          <NumberField
            label={say("step.max_gap")}
            value={draft.most_h}
            onInput={(most_h) => put({ most_h })}
            unit={say("unit.h")}
            hint={say("go.optional")}
            wrong={wrong.most_h}
            testid="step-max-gap"
          />
        </div>
      )}
      <div class="numbers">
        <NumberField
          label={say("step.labour")}
          value={draft.labour}
          onInput={(labour) => put({ labour })}
          unit={say("unit.h")}
          wrong={wrong.labour}
          testid="step-labour"
        />
        <NumberField
          label={say("step.crew_size")}
          value={draft.people}
          onInput={(people) => put({ people })}
          unit=""
          wrong={wrong.people}
        />
      </div>
      <TextField long label={say("step.text")} value={draft.how} onInput={(how) => put({ how })} />
    </>
  );
}
