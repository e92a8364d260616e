/** A reading of the meter; the dew point and the surface's margin above it stand there while it is typed. */
import { useState } from "preact/hooks";
import { dewPointC } from "../../clocks/air.ts";
import { LEAST_MARGIN_C, marginOf } from "../../parts/airline.tsx";
import { More, NumberField, readNumbers } from "../../parts/fields.tsx";
import { when } from "../../parts/know.ts";
import { inWords } from "../../parts/records.tsx";
import { back, go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { WhenField } from "../../parts/when.tsx";
import { correct, logReading } from "../../store/acts/index.ts";
import { latestReading } from "../../store/derived.ts";
import { now } from "../../store/now.ts";
import type { Json } from "../../store/view.ts";
import { number, typed } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import type { LogForm } from "./log.tsx";
import { ZonePick } from "./places.tsx";

export function ReadingForm({ row }: LogForm) {
  const [air, setAir] = useState(typed(row?.body.air_c));
  const [surface, setSurface] = useState(typed(row?.body.surface_c));
  const [rh, setRh] = useState(typed(row?.body.rh_pct));
  const [zone, setZone] = useState(String(row?.body.zone_id ?? ""));
  const [taken, setTaken] = useState<number | null>(
    row ? Date.parse(String(row.body.taken_at)) : null,
  );
  const [tried, setTried] = useState(false);
  const read = readNumbers({
    air_c: { text: air, least: -40, most: 70 },
    surface_c: { text: surface, least: -40, most: 110 },
    rh_pct: { text: rh, least: 0, most: 100 },
  });
  const empty = Object.keys(read.values).length === 0;
  const save = async () => {
    setTried(true);
    if (!read.good || empty) return;
    const taken_at = new Date(taken ?? now.value).toISOString();
    const place = zone ? { zone_id: zone } : {};
    const nothing = { air_c: null, surface_c: null, rh_pct: null, zone_id: null };
    const body: Record<string, Json> = { ...nothing, ...read.values, ...place, taken_at };
    const done = row
      ? await attempt(() => correct("reading", row.id, body), say("said.corrected"))
      : await attempt(
          () => logReading({ ...read.values, ...place, taken_at }),
          say("said.reading"),
        );
    if (!done) return;
    if (row) back("now");
    else go("now");
  };
  const last = latestReading.value;
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <div class="form form-rows">
        <NumberField
          signed
          label={say("reading.air")}
          value={air}
          onInput={setAir}
          unit={say("unit.c")}
          wrong={read.wrong.air_c}
          testid="reading-air"
        />
        <NumberField
          signed
          label={say("reading.surface")}
          value={surface}
          onInput={setSurface}
          unit={say("unit.c")}
          wrong={read.wrong.surface_c}
          testid="reading-surface"
        />
        <NumberField
          label={say("reading.rh")}
          value={rh}
          onInput={setRh}
          unit={say("unit.pct")}
          wrong={read.wrong.rh_pct}
          testid="reading-rh"
        />
      </div>
      <Dew {...read.values} />
      {tried && empty && <p class="field-wrong">{say("reading.one")}</p>}
      <button type="submit" class="button button-main" data-testid="reading-save">
        {say("go.save")}
      </button>
      <More label={say("log.other_values")} open={row !== undefined}>
        <ZonePick
          label={say("reading.zone")}
          value={zone}
          onPick={setZone}
          none={say("reading.everywhere")}
        />
        <WhenField
          label={say("reading.taken")}
          value={taken}
          onChange={setTaken}
          testid="reading-taken"
        />
      </More>
      {last && !row && (
        <p class="quiet">
          {say("reading.last", { what: `${inWords(last)} (${when(String(last.body.taken_at))})` })}
        </p>
      )}
    </form>
  );
}

function Dew(values: { air_c?: number; surface_c?: number; rh_pct?: number }) {
  const { air_c, rh_pct } = values;
  if (air_c === undefined || rh_pct === undefined || rh_pct <= 0 || air_c > 60)
    return <p class="quiet">{say("reading.type_all")}</p>;
  const margin = marginOf(values);
  const low = margin !== null && margin < LEAST_MARGIN_C;
  return (
    <dl class="dew figures" data-tone={low ? "gone" : "open"} data-testid="dew">
      <div>
        <dt>{say("reading.dew_point")}</dt>
        <dd data-testid="dew-point">{number(dewPointC(air_c, rh_pct))} °C</dd>
      </div>
      {margin !== null && (
        <div>
          <dt>{say("reading.margin")}</dt>
          <dd data-testid="dew-margin">{number(margin)} °C</dd>
        </div>
      )}
      {margin !== null && (
        <div class="dew-words">
          <dt class="unseen">{say("caution.label")}</dt>
          <dd>{say(low ? "reading.margin_low" : "reading.margin_good")}</dd>
        </div>
      )}
    </dl>
  );
}
