/** When a step is planned: a day and a time to start, and perhaps to end. */
import { useState } from "preact/hooks";
import { TextField } from "../../parts/fields.tsx";
import { text, when, yardZone } from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import { setFields } from "../../store/acts/index.ts";
import type { ItemRow, Json } from "../../store/view.ts";
import { dayOf, instantOf, timeOf } from "../../words/dates.ts";
import { say } from "../../words/index.ts";

const read = (day: string, time: string): number | null =>
  day && time ? instantOf(day, time, yardZone()) : null;

/** `Planned: Thu 12 Mar 08:00 to 12:00`. */
export function PlannedLine({ step }: { step: ItemRow }) {
  const [start, end] = [text(step, "planned_start_at"), text(step, "planned_end_at")];
  if (!start) return null;
  return (
    <p class="gap figures" data-testid="planned">
      {end
        ? say("planned.line_to", { from: when(start), to: when(end) })
        : say("planned.line", { from: when(start) })}
    </p>
  );
}

export function Planned({ step }: { step: ItemRow }) {
  const [start, end] = [text(step, "planned_start_at"), text(step, "planned_end_at")];
  return <Form key={`${start} ${end}`} step={step} start={start} end={end} />;
}

function Form({ step, start, end }: { step: ItemRow; start: string; end: string }) {
  const zone = yardZone();
  const day = (at: string) => (at ? dayOf(Date.parse(at), zone) : "");
  const time = (at: string) => (at ? timeOf(Date.parse(at), zone) : "");
  const [from, setFrom] = useState({ day: day(start), time: time(start) });
  const [to, setTo] = useState({ day: day(end), time: time(end) });
  const [tried, setTried] = useState(false);
  const starts = read(from.day, from.time);
  const ends = read(to.day || from.day, to.time);
  const wrong = starts === null ? "planned.whole" : "";
  const crossed = starts !== null && ends !== null && ends < starts ? "planned.order" : "";
  const save = (fields: Record<string, Json>) =>
    attempt(() => setFields("step", step.id, fields), say("said.saved"));
  const put = () => {
    setTried(true);
    if (starts === null || crossed) return;
    void save({
      planned_start_at: new Date(starts).toISOString(),
      planned_end_at: ends === null ? null : new Date(ends).toISOString(),
    });
  };
  return (
    <fieldset class="field" data-testid="planned-form">
      <legend>{say("planned.title")}</legend>
      <div class="form">
        <TextField
          type="date"
          label={say("planned.start_day")}
          value={from.day}
          onInput={(one) => setFrom({ ...from, day: one })}
          wrong={tried && wrong ? say(wrong) : undefined}
          testid="planned-day"
        />
        <TextField
          type="time"
          label={say("planned.start_time")}
          value={from.time}
          onInput={(one) => setFrom({ ...from, time: one })}
          testid="planned-time"
        />
      </div>
      <div class="form">
        <TextField
          type="date"
          label={say("planned.end_day")}
          hint={say("go.optional")}
          value={to.day}
          onInput={(one) => setTo({ ...to, day: one })}
          wrong={tried && crossed ? say(crossed) : undefined}
          testid="planned-end-day"
        />
        <TextField
          type="time"
          label={say("planned.end_time")}
          value={to.time}
          onInput={(one) => setTo({ ...to, time: one })}
          testid="planned-end-time"
        />
      </div>
      <div class="buttons">
        <button type="button" class="button" onClick={put} data-testid="planned-save">
          {say("go.save")}
        </button>
        {start && (
          <button
            type="button"
            class="button"
            data-testid="planned-clear"
            onClick={() => void save({ planned_start_at: null, planned_end_at: null })}
          >
            {say("planned.clear")}
          </button>
        )}
      </div>
    </fieldset>
  );
}
