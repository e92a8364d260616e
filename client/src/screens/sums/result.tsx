/** What came out of a sum: one figure large, the others line by line, and in words what it rests on. */
import { choiceOf, tell, tellOf, translated } from "../../handbook/index.ts";
import { when } from "../../parts/know.ts";
import type { Json } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { type Described, kindOf, type Schema } from "./registry.ts";
import { ownWords } from "./rows.tsx";
import { figures, measured } from "./units.ts";

type Values = { [name: string]: Json };

/** The answer that the sum is asked for, where it is not the first. */
const LARGE: Readonly<Record<string, string>> = {
  surface_margin: "margin_k",
  margin_at_touch_dry: "least_margin_k",
  spreading_rate: "practical_m2_per_l",
  loss_by_method: "usual_pct",
  paint_needed: "order_l",
  comb_target: "must_be_wet_um",
  mix_by_mass: "hardener_kg",
  mix_by_volume: "hardener_l",
  scarf_taper: "outer_mm",
  fillet_volume: "volume_l",
  filler_mix: "paste_l",
  laminate_ply: "thickness_mm",
  laminate_schedule: "thickness_mm",
};

/** Said apart: what the answer rests on, and why. */
const WORDS = new Set(["basis", "reasons", "notes"]);

/** In a row: names that only programs need, and reasons, which are said elsewhere. */
const UNSAID = new Set(["id", "reasons"]);

export function largeOf(sum: Described, gives: Values): string | undefined {
  const named = LARGE[sum.name];
  if (named !== undefined && typeof gives[named] === "number") return named;
  const fields = Object.keys(sum.gives.properties ?? {}).filter((name) => !WORDS.has(name));
  const first = fields[0] ?? "";
  if (sum.gives.properties?.[first]?.enum) return first;
  const single = (name: string) =>
    typeof gives[name] === "number" || typeof gives[name] === "boolean";
  return fields.find(single);
}

export function Result({ sum, gives }: { sum: Described; gives: Values }) {
  const fields = sum.gives.properties ?? {};
  const large = largeOf(sum, gives);
  const rest = Object.entries(fields).filter(([name]) => name !== large && !WORDS.has(name));
  return (
    <section class="result" data-testid="sum-result" aria-label={translated(sum.about)}>
      {large && (
        <p class="weigh figures" role="status" data-testid="sum-large" data-field={large}>
          {translated(fields[large]?.description ?? large)}
          <Large schema={fields[large] ?? {}} name={large} value={gives[large] ?? null} />
        </p>
      )}
      <dl class="facts figures">
        {rest.map(([name, schema]) => (
          <Fact key={name} name={name} schema={schema} value={gives[name] ?? null} />
        ))}
      </dl>
      <Why gives={gives} />
    </section>
  );
}

/** A value by what its description says that it is. */
export function inWords(name: string, schema: Schema, value: Json): string {
  if (value === null) return "";
  if (typeof value === "boolean") return say(value ? "go.yes" : "go.no");
  if (typeof value === "number") {
    const { figure, word } = measured(value, schema.unit);
    return word ? `${figure} ${word}` : figure;
  }
  if (typeof value === "string") return textInWords(name, schema, value);
  if (Array.isArray(value)) return listInWords(name, schema.items ?? {}, value);
  const inner = schema.properties;
  if (typeof value.text === "string") return value.text;
  if (!inner) return String((value as { product_class?: Json }).product_class ?? "");
  return Object.entries(value)
    .filter(([part]) => !UNSAID.has(part))
    .filter(([, one]) => one !== null && !(Array.isArray(one) && one.length === 0))
    .map(([part, one]) => factInWords(part, inner[part] ?? {}, one))
    .join(" · ");
}

function textInWords(name: string, schema: Schema, value: string): string {
  if (schema.format === "date-time") return when(value);
  if (name === "title_key") return tellOf("mend", value.replace(/^mend\./, ""));
  return schema.enum ? choiceOf(name, value) : value;
}

const factInWords = (name: string, schema: Schema, value: Json) =>
  `${translated(schema.description ?? name)}: ${inWords(name, schema, value)}`;

/** Numbers of one unit stand in a row, with the unit once. */
function listInWords(name: string, items: Schema, values: Json[]): string {
  const { unit } = items;
  if (values.every((one) => typeof one === "number"))
    return [values.map((one) => figures(one as number)).join("  "), measured(1, unit).word]
      .filter(Boolean)
      .join(" ");
  const separator = kindOf(items) === "array" ? " / " : ", ";
  return values.map((one) => inWords(name, items, one)).join(separator);
}

function Large({ schema, name, value }: { schema: Schema; name: string; value: Json }) {
  return <b>{inWords(name, schema, value)}</b>;
}

function Fact({ name, schema, value }: { name: string; schema: Schema; value: Json }) {
  if (value === null || (Array.isArray(value) && value.length === 0)) return null;
  const rows = Array.isArray(value) && kindOf(schema.items ?? {}) === "object" ? value : null;
  return (
    <div data-testid="sum-fact" data-field={name}>
      <dt>{translated(schema.description ?? name)}</dt>
      <dd>
        {rows ? <RowsOf schema={schema.items ?? {}} rows={rows} /> : inWords(name, schema, value)}
      </dd>
    </div>
  );
}

function RowsOf({ schema, rows }: { schema: Schema; rows: Json[] }) {
  return (
    <ol class="numbered">
      {rows.map((row, n) => (
        <li key={n}>{ownWords(row) ?? inWords("", schema, row)}</li>
      ))}
    </ol>
  );
}

interface Reason {
  code: string;
  source?: string;
  contested?: string;
}

/** Reasons are codes, or rows of a table with their source and who says otherwise. */
const list = (value: Json | undefined): Reason[] =>
  (Array.isArray(value) ? value : []).map((one) =>
    typeof one === "string" ? { code: one } : (one as unknown as Reason),
  );

function Why({ gives }: { gives: Values }) {
  const why = [...list(gives.reasons), ...list(gives.notes)];
  const { basis } = gives;
  return (
    <>
      {why.length > 0 && (
        <ul class="marks" data-testid="sum-why">
          {why.map(({ code, source, contested }) => (
            <li key={code}>
              {tellOf("reason", code)}
              {source && (
                <small class="plain" lang="en">
                  {source}
                </small>
              )}
              {contested && (
                <small class="plain" lang="en">
                  {tell("sums.contested", { text: contested })}
                </small>
              )}
            </li>
          ))}
        </ul>
      )}
      {typeof basis === "string" && (
        <p class="quiet" data-testid="sum-basis">
          {tellOf("basis", basis)}
        </p>
      )}
    </>
  );
}
