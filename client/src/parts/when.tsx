/** An instant that is usually now, or a little earlier: three large buttons, and a full clock for the rest. */
import { now } from "../store/now.ts";
import { dayOf, instantOf, timeOf } from "../words/dates.ts";
import { say } from "../words/index.ts";
import { TextField } from "./fields.tsx";
import { when, yardZone } from "./know.ts";

const EARLIER_MIN = [5, 15, 60];

export function WhenField(props: {
  label: string;
  /** Null: now. */
  value: number | null;
  onChange: (value: number | null) => void;
  wrong?: string | undefined;
  testid?: string;
}) {
  const shown = props.value ?? now.value;
  return (
    <fieldset class="field" data-testid={props.testid}>
      <legend>{props.label}</legend>
      <p class="big-time figures">
        {props.value === null ? `${say("when.now")}: ` : ""}
        {when(shown)}
      </p>
      <div class="buttons">
        {EARLIER_MIN.map((min) => (
          <button
            type="button"
            class="button"
            key={min}
            data-testid={props.testid && `${props.testid}-minus-${min}`}
            onClick={() => props.onChange(shown - min * 60_000)}
          >
            {say("when.minus", { n: min })}
          </button>
        ))}
        {props.value !== null && (
          <button type="button" class="button" onClick={() => props.onChange(null)}>
            {say("when.now")}
          </button>
        )}
      </div>
      <DayAndTime
        label={say("when.other")}
        value={shown}
        onChange={props.onChange}
        testid={props.testid}
      />
      {props.wrong && <p class="field-wrong">{props.wrong}</p>}
    </fieldset>
  );
}

function DayAndTime(props: {
  label: string;
  value: number;
  onChange: (value: number) => void;
  testid?: string | undefined;
}) {
  const zone = yardZone();
  const day = dayOf(props.value, zone);
  const time = timeOf(props.value, zone);
  const set = (d: string, t: string) => {
    if (d && t) props.onChange(instantOf(d, t, zone));
  };
  return (
    <details>
      <summary>{props.label}</summary>
      <div class="numbers">
        <TextField
          type="date"
          label={say("when.day")}
          value={day}
          onInput={(d) => set(d, time)}
          testid={props.testid && `${props.testid}-day`}
        />
        <TextField
          type="time"
          label={say("when.time")}
          value={time}
          onInput={(t) => set(day, t)}
          testid={props.testid && `${props.testid}-time`}
        />
      </div>
    </details>
  );
}
