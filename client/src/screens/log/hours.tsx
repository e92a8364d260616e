/** Hours worked: a tap for the usual lengths. */
import { useState } from "preact/hooks";
import { Choices, More, NumberField, Pick, readNumbers, TextField } from "../../parts/fields.tsx";
import { isOwner, item, text, today } from "../../parts/know.ts";
import { back, go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { correct, logHours } from "../../store/acts/index.ts";
import { me, view } from "../../store/view.ts";
import { readNumber, typed } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import type { LogForm } from "./log.tsx";
import { likelyStep, StepPick } from "./places.tsx";

const USUAL_H = ["2", "4", "6", "8"];

export function HoursForm({ about, row }: LogForm) {
  const minutes = row ? Number(row.body.minutes) : 0;
  const [step, setStep] = useState(() =>
    row ? String(row.body.step_id ?? "") : about || likelyStep(),
  );
  const [hours, setHours] = useState(minutes ? typed(minutes / 60) : "8");
  const [day, setDay] = useState(() => (row ? String(row.body.worked_on) : today()));
  const [who, setWho] = useState(() => String(row?.body.member_id ?? me.value?.member_id ?? ""));
  const read = readNumbers({ hours: { text: hours, least: 0, most: 24, needed: true } });
  const save = async () => {
    if (!read.good || !day) return;
    const body = {
      worked_on: day,
      minutes: Math.round((read.values.hours ?? 0) * 60),
      member_id: who,
    };
    const job = text(item("step", step), "job_id");
    const place = step ? { step_id: step, job_id: job } : {};
    const done = row
      ? await attempt(
          () => correct("hours", row.id, { step_id: null, job_id: null, ...body, ...place }),
          say("said.corrected"),
        )
      : await attempt(() => logHours({ ...body, ...place }), say("said.hours"));
    if (!done) return;
    if (row || about) back("now");
    else go("now");
  };
  const crew = view.value.items("member");
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <Choices
        label={say("hours.how_long")}
        value={String(readNumber(hours))}
        options={USUAL_H.map((value) => ({ value, label: `${value} ${say("unit.h")}` }))}
        onPick={setHours}
        testid="hours-usual"
      />
      <NumberField
        label={say("hours.other")}
        value={hours}
        onInput={setHours}
        unit={say("unit.h")}
        wrong={read.wrong.hours}
        testid="hours"
      />
      <button type="submit" class="button button-main" data-testid="hours-save">
        {say("go.save")}
      </button>
      <StepPick value={step} onPick={setStep} none={say("log.for_none")} />
      <More label={say("log.other_values")} open={row !== undefined}>
        <TextField type="date" label={say("hours.day")} value={day} onInput={setDay} />
        {isOwner() && (
          <Pick
            label={say("hours.who")}
            value={who}
            options={crew.map((one) => ({ value: one.id, label: text(one, "name") }))}
            onPick={setWho}
          />
        )}
      </More>
    </form>
  );
}
