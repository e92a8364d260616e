/** A new refit: its name, its owner, and the launch that it is counted down to. */
import { useState } from "preact/hooks";
import { More, Pick, TextField } from "../parts/fields.tsx";
import { PageHead } from "../parts/page.tsx";
import { createRefit } from "../store/view.ts";
import { dayOf, instantOf } from "../words/dates.ts";
import { language, say } from "../words/index.ts";
import { showCode } from "./code.ts";
import { useDeed } from "./welcome.tsx";

const ownZone = () => Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";

/** Every zone that the phone knows, its own in front. */
const zones = () => [...new Set([ownZone(), "UTC", ...Intl.supportedValuesOf("timeZone")])];

const FOUR_WEEKS_MS = 28 * 86_400_000;

export function CreateForm() {
  const [name, setName] = useState("");
  const [owner, setOwner] = useState("");
  const [zone, setZone] = useState(ownZone);
  const [day, setDay] = useState(() => dayOf(Date.now() + FOUR_WEEKS_MS, ownZone()));
  const [time, setTime] = useState("10:00");
  const [starts, setStarts] = useState("08:00");
  const [ends, setEnds] = useState("17:00");
  const [tried, setTried] = useState(false);
  const { busy, wrong, run } = useDeed();
  const need = (value: string) => (tried && !value.trim() ? say("problem.missing") : undefined);
  const submit = () => {
    setTried(true);
    if (!name.trim() || !owner.trim() || !day || !time) return;
    run(async () => {
      const { recovery_code } = await createRefit({
        name: name.trim(),
        owner_name: owner.trim(),
        time_zone: zone,
        launch_at: new Date(instantOf(day, time, zone)).toISOString(),
        language: language(),
        day_starts: starts || "08:00",
        day_ends: ends || "17:00",
        with_products: true,
      });
      showCode(recovery_code);
    });
  };
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        submit();
      }}
    >
      <PageHead title={say("create.title")} otherwise={["welcome"]} />
      <TextField
        label={say("create.boat")}
        value={name}
        onInput={setName}
        wrong={need(name)}
        testid="refit-name"
      />
      <TextField
        label={say("create.owner")}
        value={owner}
        onInput={setOwner}
        autocomplete="name"
        wrong={need(owner)}
        testid="owner-name"
      />
      <fieldset class="field">
        <legend>{say("create.launch")}</legend>
        <div class="numbers">
          <TextField
            type="date"
            label={say("when.day")}
            value={day}
            onInput={setDay}
            wrong={need(day)}
            testid="launch-day"
          />
          <TextField
            type="time"
            label={say("when.time")}
            value={time}
            onInput={setTime}
            wrong={need(time)}
            testid="launch-time"
          />
        </div>
      </fieldset>
      <Pick
        label={say("create.zone")}
        value={zone}
        options={zones().map((value) => ({ value, label: value.replaceAll("_", " ") }))}
        onPick={setZone}
        testid="time-zone"
      />
      <More label={say("create.hours")}>
        <div class="numbers">
          <TextField
            type="time"
            label={say("crew.day_starts")}
            value={starts}
            onInput={setStarts}
          />
          <TextField type="time" label={say("crew.day_ends")} value={ends} onInput={setEnds} />
        </div>
      </More>
      {wrong && (
        <p class="problem" role="alert" data-testid="problem">
          {wrong}
        </p>
      )}
      <button type="submit" class="button button-main" disabled={busy} data-testid="create">
        {say("create.do")}
      </button>
    </form>
  );
}
