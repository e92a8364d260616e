/** A product's numbers, from its tin's data sheet. `#/product/<id>`, `#/product/new/<class>`, `#/product/new/file` */
import { useState } from "preact/hooks";
import { COAT_STAGES, POT_STAGES, type Stage } from "../../clocks/types.ts";
import { choiceOf, tell } from "../../handbook/index.ts";
import { Clash, Pick, TextField, Tick } from "../../parts/fields.tsx";
import { canWork, live, productName } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { createProduct, saveProduct } from "../../store/acts/index.ts";
import { type ItemRow, view } from "../../store/view.ts";
import { language, say, sayOf } from "../../words/index.ts";
import { SumCare } from "../sums/care.tsx";
import type { Draft, Drafts, Wrong } from "../sums/draft.ts";
import { SumField } from "../sums/field.tsx";
import { Fold } from "../sums/fold.tsx";
import { CAUTIONS, cautionIn, type Schema } from "../sums/registry.ts";
import { inWords } from "../sums/result.tsx";
import { BUNDLED, bundled, type ProfileJson } from "./bundled.ts";
import { draftOf, type ProductDraft, readProduct } from "./draft.ts";
import { nameIn, ProductList, standing } from "./list.tsx";
import { GiveOut, takenIn } from "./share.tsx";
import { LIMITS, MIXING, RARE, SHEET, STUFF, sheetOf, TIMES } from "./sheet.ts";

export function ProductScreen({ path }: { path: string[] }) {
  const [id = "", start = ""] = path;
  if (!id || (id === "new" && !canWork())) return <ProductList />;
  if (id === "new") {
    const profile = start === "file" ? takenIn.value : bundled(start);
    return profile ? <Sheet row={undefined} profile={profile} /> : <ProductList />;
  }
  const row = live("product", id);
  if (!row)
    return (
      <>
        <PageHead title={say("app.not_found")} otherwise={["product"]} />
        <p>{say("app.not_found_why")}</p>
      </>
    );
  const profile = (row.fields.profile ?? {}) as ProfileJson;
  return canWork() ? <Sheet row={row} profile={profile} /> : <Facts row={row} profile={profile} />;
}

/** What those see who look on. */
function Facts({ row, profile }: { row: ItemRow; profile: ProfileJson }) {
  const flat = sheetOf(profile);
  const empty = (value: unknown) => value === null || (Array.isArray(value) && !value.length);
  const label = (name: string, schema: Schema) =>
    isStage(name) ? sayOf("stage", name) : tellLabel(schema);
  return (
    <>
      <PageHead title={productName(row.id)} otherwise={["product"]} />
      <p class="quiet">{standing(profile)}</p>
      <dl class="facts figures">
        {Object.entries(SHEET.properties ?? {})
          .filter(([name]) => !empty(flat[name] ?? null))
          .map(([name, schema]) => (
            <div key={name}>
              <dt>{label(name, schema)}</dt>
              <dd>{inWords(name, schema, flat[name] ?? null)}</dd>
            </div>
          ))}
      </dl>
      <SumCare ids={(profile.cautions ?? []) as string[]} typical={profile.typical === true} />
      <GiveOut profile={profile} />
    </>
  );
}

const tellLabel = ({ description = "" }: Schema) => tell(description as Parameters<typeof tell>[0]);
const STAGES: readonly string[] = [...POT_STAGES, ...COAT_STAGES];
const isStage = (name: string): name is Stage => STAGES.includes(name);

/** The form. What somebody else saved meanwhile is said first; a second tap overwrites it knowingly. */
function Sheet({ row, profile: given }: { row: ItemRow | undefined; profile: ProfileJson }) {
  const fresh = row === undefined;
  const [before, setBefore] = useState(given);
  const title = row ? productName(row.id) : nameIn(given);
  const [draft, setDraft] = useState<ProductDraft>(() => draftOf(title, given));
  const [tried, setTried] = useState(false);
  const [clash, setClash] = useState("");
  const put = (part: Partial<ProductDraft>) => setDraft({ ...draft, ...part });
  const { profile, wrong, good, other } = readProduct(draft, before, fresh);
  const shown = tried ? wrong : {};
  const save = async () => {
    setTried(true);
    if (!good) return;
    const current = row && view.peek().item("product", row.id)?.fields.profile;
    const words = row && !sameJson(current, before) ? tell("product.meanwhile") : "";
    setClash(words);
    if (words && words !== clash) return;
    const version = Number((current as ProfileJson | undefined)?.version ?? 0) + 1;
    const body = { name: draft.name.trim(), profile: { ...profile, version } };
    const done = await attempt(
      () => (row ? saveProduct(row.id, body) : createProduct(body)),
      tell("product.saved", { n: version }),
    );
    if (!done) return;
    setBefore(body.profile);
    setClash("");
    setTried(false);
    if (fresh) {
      takenIn.value = null;
      go("product");
    }
  };
  return (
    <>
      <PageHead title={fresh ? tell("product.new") : title} otherwise={["product"]} />
      <p class="quiet about" data-testid="product-standing">
        {standing(before)}
      </p>
      <div class="columns columns-two">
        <div class="form">
          <Names draft={draft} put={put} wrong={shown} ask={other || before.typical !== true} />
          <Times draft={draft} put={put} wrong={shown} />
        </div>
        <div class="form">
          <Group
            title={tell("product.mixing")}
            schema={MIXING}
            draft={draft}
            put={put}
            wrong={shown}
          />
          <Group
            title={tell("product.stuff")}
            schema={STUFF}
            draft={draft}
            put={put}
            wrong={shown}
          />
          <Group
            title={tell("product.limits")}
            schema={LIMITS}
            draft={draft}
            put={put}
            wrong={shown}
          />
          <Group title={tell("product.rare")} schema={RARE} draft={draft} put={put} wrong={shown} />
          <Cautions draft={draft} put={put} />
          {tried && !good && (
            <p class="problem" role="alert" data-testid="product-wrong">
              {tell("product.wrong")}
            </p>
          )}
          <Clash words={clash} />
          <button
            type="button"
            class="button button-main"
            onClick={save}
            data-testid="product-save"
          >
            {say("go.save")}
          </button>
          <p class="quiet">{tell("product.keeps")}</p>
          <GiveOut profile={before} />
          <p class="quiet">{say("caution.defer")}</p>
        </div>
      </div>
    </>
  );
}

const sameJson = (one: unknown, two: unknown) => JSON.stringify(one) === JSON.stringify(two);

interface Part {
  draft: ProductDraft;
  put: (part: Partial<ProductDraft>) => void;
  wrong: Wrong;
}

function Names({ draft, put, wrong, ask }: Part & { ask: boolean }) {
  const classes = [
    ...new Set([...BUNDLED.map((one) => String(one.product_class)), draft.product_class]),
  ];
  return (
    <>
      <TextField
        label={say("field.name")}
        value={draft.name}
        onInput={(name) => put({ name })}
        wrong={wrong.name}
        testid="product-name"
      />
      <Pick
        label={tell("product.class")}
        value={draft.product_class}
        options={classes.map((value) => ({ value, label: choiceOf("product_class", value) }))}
        onPick={(product_class) => put({ product_class })}
        wrong={wrong.product_class}
        testid="product-class"
      />
      {ask && (
        <TextField
          label={tell("product.note")}
          hint={tell("product.note_hint")}
          value={draft.note}
          onInput={(note) => put({ note })}
          most={500}
          wrong={wrong.basis_note}
          testid="product-note"
        />
      )}
    </>
  );
}

function One({ name, schema, draft, put, wrong }: Part & { name: string; schema: Schema }) {
  const change = (one: Draft) => put({ sheet: { ...draft.sheet, [name]: one } });
  return (
    <SumField
      name={name}
      path={name}
      schema={schema}
      draft={draft.sheet[name]}
      onDraft={change}
      wrong={wrong}
    />
  );
}

/** The times of each stage, each behind its own line, which says what stands in it. */
function Times(part: Part) {
  const { wrong, draft } = part;
  return (
    <Slab title={tell("product.times")} testid="product-times">
      <p class="slab-note">{tell("product.times_hint")}</p>
      {wrong.stages && <p class="field-wrong">{wrong.stages}</p>}
      {Object.entries(TIMES.properties ?? {}).map(([stage, schema]) => {
        const open = Object.keys(wrong).some((path) => path.startsWith(`${stage}[`));
        const told = { ...schema, description: sayOf("stage", stage) };
        return (
          <Fold
            key={stage}
            open={open}
            class="sheet-stage"
            testid={`stage-${stage}`}
            summary={
              <span>
                {sayOf("stage", stage)}
                <small class="plain figures">{pointsInWords(draft.sheet[stage])}</small>
              </span>
            }
          >
            <One {...part} name={stage} schema={told} />
          </Fold>
        );
      })}
    </Slab>
  );
}

function pointsInWords(rows: Draft | undefined): string {
  const written = (Array.isArray(rows) ? rows : []) as Drafts[];
  return (
    written
      .map(({ temp_c, hours, minutes }) =>
        minutes === undefined ? `${temp_c} °C: ${hours} h` : `${temp_c} °C: ${minutes} min`,
      )
      .join(" · ") || say("go.none")
  );
}

function Group(props: Part & { title: string; schema: Schema }) {
  const { title, schema, ...part } = props;
  const fields = Object.entries(schema.properties ?? {});
  const open = fields.some(([name]) =>
    Object.keys(part.wrong).some((path) => path === name || path.startsWith(`${name}[`)),
  );
  return (
    <Fold open={open} class="sheet-stage" testid={`group-${fields[0]?.[0]}`} summary={title}>
      <div class="form">
        {fields.map(([name, one]) => (
          <One key={name} {...part} name={name} schema={one} />
        ))}
      </div>
    </Fold>
  );
}

function Cautions({ draft, put }: Omit<Part, "wrong">) {
  const tag = language();
  const turn = (id: string, on: boolean) =>
    put({
      cautions: on ? [...draft.cautions, id] : draft.cautions.filter((one) => one !== id),
    });
  return (
    <details class="sheet-stage">
      <summary data-testid="group-cautions">{say("caution.label")}</summary>
      <div class="form">
        {Object.keys(CAUTIONS).map((id) => (
          <Tick
            key={id}
            label={cautionIn(id, tag)}
            checked={draft.cautions.includes(id)}
            onTick={(on) => turn(id, on)}
            testid={`caution-${id}`}
          />
        ))}
      </div>
    </details>
  );
}
