/** Every sum of the trade, worked out on the phone. `#/sums`, `#/sums/<name>/<step>`, `#/sums/all/<step>` */
import { useState } from "preact/hooks";
import { tell, tellOf, translated } from "../../handbook/index.ts";
import { TextField } from "../../parts/fields.tsx";
import { Icon } from "../../parts/icon.tsx";
import { canWork, item, productName, text } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { back, to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { correct, keepSum } from "../../store/acts/index.ts";
import { type Json, type RecordRow, view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { ProductPick, StepPick, stepPath } from "../log/places.tsx";
import { SumCare } from "./care.tsx";
import { type Draft, type Drafts, draftOf, draftsOf, type Wrong } from "./draft.ts";
import { SumField } from "./field.tsx";
import { Fold } from "./fold.tsx";
import { type Described, FAMILIES, kindOf, type Schema, SUMS, sumNamed } from "./registry.ts";
import { Result } from "./result.tsx";
import { profileOf, startOf } from "./start.ts";
import { keptOf, workedOut } from "./work.ts";

const ALL = "all";

export function SumsScreen({ path }: { path: string[] }) {
  const [name = "", step_id = ""] = path;
  const sum = sumNamed(name);
  if (name && name !== ALL && !sum) return <NotHere />;
  return sum ? <OneSum key={sum.name} sum={sum} about={step_id} /> : <List step_id={step_id} />;
}

/** A kept sum again, with what it was given: `#/log/correct/sum/<record>` */
export function CorrectSum({ path }: { path: string[] }) {
  const row = view.value.records("sum").find((one) => one.id === path[0]);
  const sum = sumNamed(String(row?.body.name));
  if (!row || !sum) return <NotHere />;
  return <OneSum key={row.id} sum={sum} about={String(row.body.step_id ?? "")} row={row} />;
}

function NotHere() {
  return (
    <>
      <PageHead title={say("app.not_found")} otherwise={["sums"]} />
      <p>{say("app.not_found_why")}</p>
    </>
  );
}

function List({ step_id }: { step_id: string }) {
  const step = item("step", step_id);
  return (
    <>
      <PageHead title={tell("sums.title")} otherwise={["log"]} long />
      {step && <p class="strong">{stepPath(step)}</p>}
      {FAMILIES.map((family) => (
        <Slab key={family} title={tellOf("family", family)} testid={`family-${family}`}>
          <ul class="log-list">
            {SUMS.filter((one) => one.family === family).map((one) => (
              <li key={one.name}>
                <a
                  href={step_id ? to("sums", one.name, step_id) : to("sums", one.name)}
                  data-testid={`sum-${one.name}`}
                >
                  <span>
                    <b>{tellOf("title", one.name)}</b>
                    <small>{translated(one.about)}</small>
                  </span>
                </a>
              </li>
            ))}
          </ul>
        </Slab>
      ))}
      <p>
        <a class="line-link" href={to("product")}>
          {tell("product.list")}
        </a>
      </p>
    </>
  );
}

/** Fields that go by the product at hand. */
const OF_PRODUCT =
  /^(solids_by_volume_pct|dry_film_um|film_per_coat_um|specified_um|density_kg_l|ratio_|induction|pot_reference|pot_life|catalyst_pct|product_class|rule_k|profile|over|ramp_k_h|sand_minutes)/;
const needsProduct = (sum: Described) =>
  sum.name === "filler_mix" ||
  Object.keys(sum.takes.properties ?? {}).some((name) => OF_PRODUCT.test(name));

/** What is usual and seldom changed stands behind one tap: numbers and lists that have a default. */
function isUsual(schema: Schema): boolean {
  const kind = kindOf(schema);
  if (schema.default === undefined || schema.default === null) return false;
  return kind === "number" || kind === "array" || kind === "object";
}

/** Filled in from elsewhere, and not asked for. */
const UNASKED = new Set(["language"]);

type Values = { [name: string]: Json };

function OneSum({ sum, about, row }: { sum: Described; about: string; row?: RecordRow }) {
  const [step_id, setStep] = useState(about);
  const [product_id, setProduct] = useState(() => text(item("step", about), "product_id"));
  const [drafts, setDrafts] = useState<Drafts>(() =>
    draftsOf(sum.takes, row ? (row.body.takes as Json) : startOf(sum, about, product_id)),
  );
  const [touched, setTouched] = useState<ReadonlySet<string>>(new Set());
  const [tried, setTried] = useState(false);
  const begin = (step: string, product: string) => {
    if (row) return;
    const start = startOf(sum, step, product);
    const fields = Object.entries(sum.takes.properties ?? {});
    const fresh = fields
      .filter(([name]) => !touched.has(name))
      .map(([name, field]) => [name, draftOf(field, start[name] ?? field.default)] as const);
    setDrafts({ ...drafts, ...Object.fromEntries(fresh) });
  };
  const pickStep = (id: string) => {
    const product = text(item("step", id), "product_id") || product_id;
    setStep(id);
    setProduct(product);
    begin(id, product);
  };
  const pickProduct = (id: string) => {
    setProduct(id);
    begin(step_id, id);
  };
  const put = (name: string, draft: Draft) => {
    setTouched(new Set([...touched, name]));
    setDrafts({ ...drafts, [name]: draft });
  };
  const look = (id: string) => item("product", id)?.fields.profile as Json | undefined;
  const { takes, gives, wrong } = workedOut(sum, drafts, look, keptOf(row, touched));
  const profile = profileOf(product_id);
  const title = tellOf("title", sum.name);
  return (
    <>
      <PageHead
        title={row ? tell("sums.correct", { title }) : title}
        otherwise={row ? ["now"] : ["sums"]}
      />
      <p class="about">{translated(sum.about)}</p>
      <div class="columns columns-two">
        <div class="form">
          <StepPick value={step_id} onPick={pickStep} none={say("log.for_none")} />
          {needsProduct(sum) && <ProductPick value={product_id} onPick={pickProduct} />}
          <Fields sum={sum} drafts={drafts} put={put} wrong={shownWrong(wrong, drafts, tried)} />
        </div>
        <div class="form">
          {gives ? (
            <Result sum={sum} gives={gives} />
          ) : (
            <p class="quiet" data-testid="sum-incomplete">
              {tell("sums.incomplete")}
            </p>
          )}
          <Keep
            sum={sum}
            row={row}
            step_id={step_id}
            takes={takes}
            gives={gives}
            onTry={() => setTried(true)}
          />
          <SumCare
            ids={[...sum.cautions, ...(needsProduct(sum) ? (profile.cautions ?? []) : [])]}
            typical={needsProduct(sum) && profile.typical === true}
          />
          <Source sum={sum} product_id={needsProduct(sum) ? product_id : ""} />
        </div>
      </div>
    </>
  );
}

/** Until somebody tries to keep the sum, what was left empty is not held against them. */
function shownWrong(wrong: Wrong, drafts: Drafts, tried: boolean): Wrong {
  if (tried) return wrong;
  const missing = say("problem.missing");
  const typedAt = (path: string) => {
    const [name = ""] = path.split(/[.[]/);
    return drafts[name] !== "" && path === name;
  };
  return Object.fromEntries(
    Object.entries(wrong).filter(([path, why]) => why !== missing || typedAt(path)),
  );
}

function Fields(props: {
  sum: Described;
  drafts: Drafts;
  put: (name: string, draft: Draft) => void;
  wrong: Wrong;
}) {
  const { sum, drafts, put, wrong } = props;
  const fields = Object.entries(sum.takes.properties ?? {}).filter(([name]) => !UNASKED.has(name));
  const asked = fields.filter(([, schema]) => !isUsual(schema));
  const usual = fields.filter(([, schema]) => isUsual(schema));
  const one = ([name, schema]: (typeof fields)[number]) => (
    <SumField
      key={name}
      name={name}
      path={name}
      schema={schema}
      draft={drafts[name]}
      onDraft={(draft) => put(name, draft)}
      wrong={wrong}
    />
  );
  const opens = usual.some(([name]) => Object.keys(wrong).some((path) => path.startsWith(name)));
  return (
    <>
      {asked.map(one)}
      {wrong[""] && <p class="problem">{wrong[""]}</p>}
      {usual.length > 0 && (
        <Fold open={opens} summary={tell("sums.usual")} testid="sum-usual">
          <div class="form">{usual.map(one)}</div>
        </Fold>
      )}
    </>
  );
}

/** Where a sum lies: a step with its job and zone, or nowhere. */
function placed(step_id: string) {
  const step = item("step", step_id);
  const job_id = text(step, "job_id") || null;
  const zone_id = text(item("job", job_id), "zone_id") || null;
  return { step_id: step ? step_id : null, job_id, zone_id };
}

function Keep(props: {
  sum: Described;
  row: RecordRow | undefined;
  step_id: string;
  takes: Values;
  gives: Values | null;
  onTry: () => void;
}) {
  const { sum, row, step_id, takes, gives, onTry } = props;
  const [remark, setRemark] = useState(String(row?.body.text ?? ""));
  if (!canWork()) return null;
  const step = item("step", step_id);
  const job_id = text(step, "job_id");
  const save = async () => {
    onTry();
    if (!gives) return;
    if (row) {
      const moved = step_id === String(row.body.step_id ?? "") ? {} : placed(step_id);
      const body = { takes, gives, text: remark.trim(), ...moved };
      if (await attempt(() => correct("sum", row.id, body), say("said.corrected"))) back("now");
      return;
    }
    const body = {
      name: sum.name,
      takes,
      gives,
      ...(step ? placed(step_id) : {}),
      text: remark.trim() || undefined,
    };
    const done = await attempt(() => keepSum(body), tell("sums.kept"));
    if (done) setRemark("");
  };
  return (
    <>
      <TextField
        label={tell("sums.remark")}
        hint={say("go.optional")}
        value={remark}
        onInput={setRemark}
        testid="sum-text"
      />
      <button type="button" class="button button-main" onClick={save} data-testid="sum-keep">
        {row ? say("go.save") : tell(step ? "sums.keep_on_step" : "sums.keep")}
      </button>
      {job_id && (
        <p>
          <a class="line-link" href={to("job", job_id)}>
            {stepPath(step)}
          </a>
        </p>
      )}
    </>
  );
}

function Source({ sum, product_id }: { sum: Described; product_id: string }) {
  const product = view.value.item("product", product_id);
  return (
    <>
      <p class="quiet" data-testid="sum-source">
        {tell("sums.source")} <span lang="en">{sum.source}</span>
      </p>
      {product && (
        <p>
          <a class="line-link" href={to("product", product_id)}>
            <Icon name="on" />
            {tell("product.numbers_of", { name: productName(product_id) })}
          </a>
        </p>
      )}
    </>
  );
}
