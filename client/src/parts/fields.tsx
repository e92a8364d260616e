/** What people type and choose: large, labelled, and saying in words what is wrong. */
import type { ComponentChildren } from "preact";
import { useId, useState } from "preact/hooks";
import { readNumber } from "../words/dates.ts";
import { say } from "../words/index.ts";

interface Common {
  label: string;
  hint?: string | undefined;
  wrong?: string | undefined;
  testid?: string | undefined;
}

function Notes({
  id,
  hint,
  wrong,
}: {
  id: string;
  hint?: string | undefined;
  wrong?: string | undefined;
}) {
  return (
    <>
      {hint && (
        <p class="field-hint" id={`${id}-hint`}>
          {hint}
        </p>
      )}
      {wrong && (
        <p class="field-wrong" id={`${id}-wrong`}>
          {wrong}
        </p>
      )}
    </>
  );
}

const described = (id: string, { hint, wrong }: Common) =>
  [hint && `${id}-hint`, wrong && `${id}-wrong`].filter(Boolean).join(" ") || undefined;

type TextProps = Common & {
  value: string;
  onInput: (value: string) => void;
  long?: boolean;
  most?: number;
  type?: "text" | "date" | "time" | "password" | "email" | "url";
  numeric?: boolean;
  autocomplete?: string;
};

export function TextField(props: TextProps) {
  const id = useId();
  const shared = {
    id,
    class: "input",
    value: props.value,
    maxLength: props.most ?? (props.long ? 10_000 : 120),
    "aria-invalid": props.wrong ? ("true" as const) : undefined,
    "aria-describedby": described(id, props),
    "data-testid": props.testid,
  };
  return (
    <div class="field">
      <label class="field-label" for={id}>
        {props.label}
      </label>
      {props.long ? (
        <textarea {...shared} onInput={(event) => props.onInput(event.currentTarget.value)} />
      ) : (
        <input
          {...shared}
          type={(props.type ?? "text") as "text"}
          autocomplete={props.autocomplete ?? "off"}
          inputMode={props.numeric ? "numeric" : undefined}
          onInput={(event) => props.onInput(event.currentTarget.value)}
        />
      )}
      <Notes id={id} hint={props.hint} wrong={props.wrong} />
    </div>
  );
}

type NumberProps = Common & {
  value: string;
  onInput: (value: string) => void;
  unit: string;
  /** May lie below zero: number pads of phones often have no minus. */
  signed?: boolean;
};

export function NumberField(props: NumberProps) {
  const id = useId();
  const turn = () =>
    props.onInput(props.value.startsWith("-") ? props.value.slice(1) : `-${props.value}`);
  return (
    <div class="field">
      <label class="field-label" for={id}>
        {props.label}
      </label>
      <div class="number">
        {props.signed && (
          <button
            type="button"
            class="button"
            aria-label={`${props.label}: ${say("unit.sign")}`}
            aria-pressed={props.value.startsWith("-")}
            onClick={turn}
          >
            ±
          </button>
        )}
        <input
          id={id}
          class="input input-number"
          type="text"
          inputMode="decimal"
          autocomplete="off"
          maxLength={12}
          value={props.value}
          aria-invalid={props.wrong ? "true" : undefined}
          aria-describedby={described(id, props)}
          data-testid={props.testid}
          onInput={(event) => props.onInput(event.currentTarget.value)}
        />
        <span class="unit">{props.unit}</span>
      </div>
      <Notes id={id} hint={props.hint} wrong={props.wrong} />
    </div>
  );
}

export interface Option {
  value: string;
  label: string;
}

type PickProps = Common & {
  value: string;
  options: Option[];
  onPick: (value: string) => void;
};

/** A few answers side by side. */
export function Choices(props: PickProps & { column?: boolean }) {
  const id = useId();
  return (
    <fieldset class="field" aria-describedby={described(id, props)} data-testid={props.testid}>
      <legend>{props.label}</legend>
      <div class={props.column ? "choices choices-column" : "choices"}>
        {props.options.map((option) => (
          <label class="choice" key={option.value}>
            <input
              type="radio"
              name={id}
              value={option.value}
              checked={option.value === props.value}
              onChange={() => props.onPick(option.value)}
            />
            <span>{option.label}</span>
          </label>
        ))}
      </div>
      <Notes id={id} hint={props.hint} wrong={props.wrong} />
    </fieldset>
  );
}

/**
 * Many answers in the phone's own list. `none` adds an empty one in front.
 *
 * The list itself lies unseen over words of our own: a browser cuts long answers off, and ours go on in a second line.
 */
export function Pick(props: PickProps & { none?: string | undefined }) {
  const id = useId();
  const chosen = props.options.find((option) => option.value === props.value);
  return (
    <div class="field">
      <label class="field-label" for={id}>
        {props.label}
      </label>
      <div class="input pick">
        <span class="pick-words" aria-hidden="true">
          {chosen?.label ?? props.none ?? ""}
        </span>
        <select
          id={id}
          class="pick-list"
          value={props.value}
          aria-invalid={props.wrong ? "true" : undefined}
          aria-describedby={described(id, props)}
          data-testid={props.testid}
          onChange={(event) => props.onPick(event.currentTarget.value)}
        >
          {props.none !== undefined && <option value="">{props.none}</option>}
          {props.options.map((option) => (
            <option value={option.value} key={option.value}>
              {option.label}
            </option>
          ))}
        </select>
      </div>
      <Notes id={id} hint={props.hint} wrong={props.wrong} />
    </div>
  );
}

type TickProps = {
  label: string;
  hint?: string;
  checked: boolean;
  onTick: (checked: boolean) => void;
  testid?: string;
};

export function Tick(props: TickProps) {
  return (
    <label class="tick">
      <input
        type="checkbox"
        checked={props.checked}
        data-testid={props.testid}
        onChange={(event) => props.onTick(event.currentTarget.checked)}
      />
      <span>
        {props.label}
        {props.hint && <small>{props.hint}</small>}
      </span>
    </label>
  );
}

/** Something that opens on a tap and holds what is seldom needed; it is made when it is first opened. */
export function More(props: {
  label: string;
  children: ComponentChildren;
  testid?: string;
  open?: boolean;
}) {
  const [made, setMade] = useState(props.open === true);
  return (
    <details open={props.open} onToggle={(event) => event.currentTarget.open && setMade(true)}>
      <summary data-testid={props.testid}>{props.label}</summary>
      {made && <div class="form">{props.children}</div>}
    </details>
  );
}

/** What stands in the way of saving a form. */
export function Clash({ words }: { words: string }) {
  return words ? (
    <p class="problem" role="alert" data-testid="clash">
      {words}
    </p>
  ) : null;
}

interface Typed {
  text: string;
  least: number;
  most: number;
  needed?: boolean;
}

/** Read typed numbers: those that are in, and what is wrong with the others, by name. */
export function readNumbers<N extends string>(typed: Record<N, Typed>) {
  const values: Partial<Record<N, number>> = {};
  const wrong: Partial<Record<N, string>> = {};
  for (const name of Object.keys(typed) as N[]) {
    const { text, least, most, needed } = typed[name];
    const value = readNumber(text);
    if (text.trim() === "") {
      if (needed) wrong[name] = say("problem.missing");
    } else if (Number.isNaN(value)) wrong[name] = say("problem.number");
    else if (value < least) wrong[name] = say("problem.least", { n: least });
    else if (value > most) wrong[name] = say("problem.most", { n: most });
    else values[name] = value;
  }
  return { values, wrong, good: Object.keys(wrong).length === 0 };
}
