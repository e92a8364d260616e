/** The fields of a sum's form, made from its description: numbers with their units, choices, lists of rows. */
import type { ComponentChildren } from "preact";
import { choiceOf, tell, translated } from "../../handbook/index.ts";
import { Choices, NumberField, Pick, TextField, Tick } from "../../parts/fields.tsx";
import { productName } from "../../parts/know.ts";
import { view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { type Draft, type Drafts, draftsOf, emptyRow, type Wrong } from "./draft.ts";
import { kindOf, mayBeNull, type Schema } from "./registry.ts";
import { shownUnit } from "./units.ts";

const FEW = 4;

interface Props {
  name: string;
  path: string;
  schema: Schema;
  draft: Draft | undefined;
  onDraft: (draft: Draft) => void;
  wrong: Wrong;
}

export function SumField(props: Props) {
  const kind = kindOf(props.schema);
  if (kind === "array") return <Rows {...props} />;
  if (kind === "object")
    return props.schema.properties ? <Inner {...props} /> : <Product {...props} />;
  if (kind === "boolean")
    return (
      <Tick
        label={translated(props.schema.description ?? props.name)}
        checked={props.draft === true}
        onTick={props.onDraft}
        testid={`sum-${props.path}`}
      />
    );
  return kind === "string" ? <Word {...props} /> : <Figure {...props} label={labelOf(props)} />;
}

const labelOf = ({ schema, name }: Props) => translated(schema.description ?? name);
const textOf = (draft: Draft | undefined) => (typeof draft === "string" ? draft : "");
const mayStayEmpty = (schema: Schema) => (mayBeNull(schema) ? say("go.optional") : undefined);

function Figure({ path, schema, draft, onDraft, wrong, label }: Props & { label: string }) {
  return (
    <NumberField
      signed={(schema.minimum ?? schema.exclusiveMinimum ?? 0) < 0}
      label={label}
      hint={mayStayEmpty(schema)}
      value={textOf(draft)}
      onInput={onDraft}
      unit={shownUnit(schema.unit).word}
      wrong={wrong[path]}
      testid={`sum-${path}`}
    />
  );
}

function Word(props: Props) {
  const { name, path, schema, draft, onDraft, wrong } = props;
  const values = (schema.enum ?? []).filter((one): one is string => one !== null);
  if (schema.format === "date-time") return <Moment {...props} />;
  if (!schema.enum)
    return (
      <TextField
        label={labelOf(props)}
        value={textOf(draft)}
        onInput={onDraft}
        most={schema.maxLength ?? 120}
        wrong={wrong[path]}
        testid={`sum-${path}`}
      />
    );
  const shared = {
    label: labelOf(props),
    value: textOf(draft),
    options: values.map((value) => ({ value, label: choiceOf(name, value) })),
    onPick: onDraft,
    wrong: wrong[path],
    testid: `sum-${path}`,
  };
  if (values.length > FEW || mayBeNull(schema))
    return (
      <Pick {...shared} none={textOf(draft) && !mayBeNull(schema) ? undefined : say("go.none")} />
    );
  return <Choices {...shared} column={values.length > 2} />;
}

/** An instant as the yard's day and time. */
function Moment(props: Props) {
  const [day = "", time = ""] = textOf(props.draft).split("T");
  const put = (one: string, other: string) => props.onDraft(one || other ? `${one}T${other}` : "");
  return (
    <Group label={labelOf(props)} shape="moment">
      <TextField
        type="date"
        label={tell("sums.day")}
        value={day}
        onInput={(one) => put(one, time)}
        wrong={props.wrong[props.path]}
        testid={`sum-${props.path}-day`}
      />
      <TextField
        type="time"
        label={tell("sums.time")}
        value={time}
        onInput={(one) => put(day, one)}
        testid={`sum-${props.path}-time`}
      />
    </Group>
  );
}

/** The numbers of a tin: taken from the products on the board. */
function Product(props: Props) {
  return (
    <Pick
      label={labelOf(props)}
      value={textOf(props.draft)}
      options={view.value
        .items("product")
        .map((row) => ({ value: row.id, label: productName(row.id) }))}
      none={say("step.product_none")}
      onPick={props.onDraft}
      wrong={props.wrong[props.path]}
      testid={`sum-${props.path}`}
    />
  );
}

function Group(props: {
  label: string;
  wrong?: string | undefined;
  /** How the fields stand: one below the other, or side by side as numbers or as day and time where there is room. */
  shape?: "form" | "numbers" | "moment";
  children: ComponentChildren;
}) {
  return (
    <fieldset class="field">
      <legend>{props.label}</legend>
      <div class={props.shape ?? "form"}>{props.children}</div>
      {props.wrong && <p class="field-wrong">{props.wrong}</p>}
    </fieldset>
  );
}

/** A pair of plain numbers; one that may lie below zero has a key for the sign, and needs a line of its own. */
function isShort({ properties = {} }: Schema): boolean {
  const fields = Object.values(properties);
  const isPlain = (one: Schema) => kindOf(one) === "number" && (one.minimum ?? 0) >= 0;
  return fields.length === 2 && fields.every(isPlain);
}

function Inner(props: Props) {
  if (props.draft === "")
    return (
      <Group label={labelOf(props)}>
        <button
          type="button"
          class="button"
          data-testid={`sum-${props.path}-add`}
          onClick={() => props.onDraft(draftsOf(props.schema, {}))}
        >
          + {tell("rows.add")}
        </button>
      </Group>
    );
  return <Whole {...props} />;
}

function Whole(props: Props) {
  const drafts = (props.draft ?? {}) as Drafts;
  return (
    <Group
      label={labelOf(props)}
      wrong={props.wrong[props.path]}
      shape={isShort(props.schema) ? "numbers" : "form"}
    >
      {Object.entries(props.schema.properties ?? {}).map(([name, field]) => (
        <SumField
          key={name}
          name={name}
          path={`${props.path}.${name}`}
          schema={field}
          draft={drafts[name]}
          onDraft={(draft) => props.onDraft({ ...drafts, [name]: draft })}
          wrong={props.wrong}
        />
      ))}
      {mayBeNull(props.schema) && (
        <button type="button" class="button button-line" onClick={() => props.onDraft("")}>
          {tell("rows.less")}
        </button>
      )}
    </Group>
  );
}

function Rows(props: Props) {
  const { path, schema, onDraft, wrong } = props;
  const rows = Array.isArray(props.draft) ? props.draft : [];
  const items = schema.items ?? {};
  const full = rows.length >= (schema.maxItems ?? Number.POSITIVE_INFINITY);
  return (
    <Group label={labelOf(props)} wrong={wrong[path]}>
      {rows.map((row, n) => (
        <div key={n} class="row" data-testid={`sum-${path}-row`}>
          <Row {...props} items={items} row={row} n={n} />
          <button
            type="button"
            class="button button-line"
            aria-label={tell("rows.without", { n: n + 1 })}
            data-testid={`sum-${path}-less`}
            onClick={() => onDraft(rows.filter((_, place) => place !== n))}
          >
            {tell("rows.less")}
          </button>
        </div>
      ))}
      {!full && (
        <button
          type="button"
          class="button"
          data-testid={`sum-${path}-more`}
          onClick={() => onDraft([...rows, emptyRow(items)])}
        >
          + {tell("rows.more")}
        </button>
      )}
    </Group>
  );
}

function Row(props: Props & { items: Schema; row: Draft; n: number }) {
  const { items, row, n, path } = props;
  const rows = Array.isArray(props.draft) ? props.draft : [];
  const shared = {
    name: props.name,
    path: `${path}[${n}]`,
    schema: { description: tell("rows.row", { n: n + 1 }), ...items },
    draft: row,
    onDraft: (draft: Draft) => props.onDraft(rows.map((one, place) => (place === n ? draft : one))),
    wrong: props.wrong,
  };
  return <SumField {...shared} />;
}
