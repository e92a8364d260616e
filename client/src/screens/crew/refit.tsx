/** The refit's own figures: the owner's to change. */
import { useState } from "preact/hooks";
import { useEdit } from "../../parts/edit.ts";
import { Clash, More, NumberField, readNumbers, TextField } from "../../parts/fields.tsx";
import { amount, refit, text, yardZone } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { type ItemRow, me } from "../../store/view.ts";
import { dayOf, instantOf, timeOf, typed } from "../../words/dates.ts";
import { say } from "../../words/index.ts";

const iso = (ms: number) => new Date(ms).toISOString();

export function RefitForm() {
  const row = refit();
  return row ? <Form row={row} key={row.id} /> : null;
}

function Form({ row }: { row: ItemRow }) {
  const zone = yardZone();
  const [booked] = useState(text(row, "launch_at"));
  const launch = Date.parse(booked);
  const [name, setName] = useState(text(row, "name"));
  const [day, setDay] = useState(dayOf(launch, zone));
  const [time, setTime] = useState(timeOf(launch, zone));
  const [starts, setStarts] = useState(text(row, "day_starts"));
  const [ends, setEnds] = useState(text(row, "day_ends"));
  const [min, setMin] = useState(typed(amount(row, "curve_min_c")));
  const [max, setMax] = useState(typed(amount(row, "curve_max_c")));
  const [hour, setHour] = useState(typed(amount(row, "curve_hour_of_max")));
  const read = readNumbers({
    min: { text: min, least: -40, most: 60, needed: true },
    max: { text: max, least: -40, most: 60, needed: true },
    hour: { text: hour, least: 0, most: 23.999, needed: true },
  });
  const whole = name.trim() !== "" && day !== "" && time !== "" && starts !== "" && ends !== "";
  const moved = day !== dayOf(launch, zone) || time !== timeOf(launch, zone);
  const { clash, save } = useEdit(row, {
    name: name.trim(),
    launch_at: moved && day && time ? iso(instantOf(day, time, zone)) : booked,
    day_starts: starts,
    day_ends: ends,
    curve_min_c: read.values.min ?? null,
    curve_max_c: read.values.max ?? null,
    curve_hour_of_max: read.values.hour ?? null,
  });
  return (
    <Slab title={say("crew.refit")} testid="refit">
      <dl class="facts">
        <div>
          <dt>{say("crew.refit_id")}</dt>
          <dd class="figures">{me.value?.refit_id}</dd>
        </div>
      </dl>
      <p class="quiet">{say("crew.refit_id_hint")}</p>
      <p>{say("time.zone", { zone })}</p>
      <More label={say("crew.refit_change")} testid="refit-edit">
        <TextField
          label={say("crew.refit_name")}
          value={name}
          onInput={setName}
          wrong={name.trim() ? undefined : say("problem.missing")}
          testid="refit-name"
        />
        <div class="numbers">
          <TextField
            type="date"
            label={say("crew.launch_on")}
            value={day}
            onInput={setDay}
            testid="launch-day"
          />
          <TextField
            type="time"
            label={say("crew.launch_time")}
            value={time}
            onInput={setTime}
            testid="launch-time"
          />
        </div>
        <div class="numbers">
          <TextField
            type="time"
            label={say("crew.day_starts")}
            value={starts}
            onInput={setStarts}
          />
          <TextField type="time" label={say("crew.day_ends")} value={ends} onInput={setEnds} />
        </div>
        <fieldset class="field">
          <legend>{say("crew.curve")}</legend>
          <div class="form">
            <NumberField
              signed
              label={say("crew.curve_min")}
              value={min}
              onInput={setMin}
              unit={say("unit.c")}
              wrong={read.wrong.min}
            />
            <NumberField
              signed
              label={say("crew.curve_max")}
              value={max}
              onInput={setMax}
              unit={say("unit.c")}
              wrong={read.wrong.max}
            />
            <NumberField
              label={say("crew.curve_hour")}
              value={hour}
              onInput={setHour}
              unit={say("unit.h")}
              wrong={read.wrong.hour}
            />
          </div>
        </fieldset>
        <Clash words={clash} />
        <button
          type="button"
          class="button button-main"
          onClick={() => read.good && whole && save()}
          data-testid="refit-save"
        >
          {say("go.save")}
        </button>
      </More>
    </Slab>
  );
}
