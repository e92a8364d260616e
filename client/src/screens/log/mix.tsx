/** A pot: the base is typed, the hardener follows from the product's ratio, the clock starts when it is stirred. */
import { useState } from "preact/hooks";
import { catalystKg, hardenerKg } from "../../clocks/mix.ts";
import type { Mix } from "../../clocks/types.ts";
import { Care, profileOf } from "../../parts/care.tsx";
import { More, NumberField, readNumbers } from "../../parts/fields.tsx";
import { item, text } from "../../parts/know.ts";
import { back, go } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { WhenField } from "../../parts/when.tsx";
import { correct, logMix } from "../../store/acts/index.ts";
import { now } from "../../store/now.ts";
import { view } from "../../store/view.ts";
import { number, readNumber, typed } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import type { LogForm } from "./log.tsx";
import { likelyStep, NEXT, ProductPick, StepPick } from "./places.tsx";

const OFF_PCT = 3;

const mixOf = (product_id: string): Mix => ({
  by_mass: null,
  by_volume: null,
  catalyst: null,
  induction_minutes: null,
  pot_reference_kg: null,
  ...(profileOf(product_id).mix as Partial<Mix> | undefined),
});

/** Grams of hardener for grams of base; null where the product gives no ratio by mass. */
function hardenerFor(mix: Mix, base_g: number): number | null {
  if (Number.isNaN(base_g) || base_g < 0) return null;
  if (mix.by_mass) return hardenerKg(mix, base_g / 1000) * 1000;
  if (mix.catalyst) return catalystKg(mix, base_g / 1000) * 1000;
  return null;
}

/** The product of the step, else of the last pot. */
function likelyProduct(step_id: string): string {
  const own = text(item("step", step_id), "product_id");
  return own || String(view.value.records("mix").at(-1)?.body.product_id ?? "");
}

export function MixForm({ about, row }: LogForm) {
  const mixed = (step: { id: string }) => {
    const mix = mixOf(text(item("step", step.id), "product_id"));
    return mix.by_mass !== null || mix.catalyst !== null || mix.by_volume !== null;
  };
  const [step, setStep] = useState(() =>
    row ? String(row.body.step_id ?? "") : about || likelyStep(mixed, NEXT),
  );
  const [product, setProduct] = useState(() =>
    row ? String(row.body.product_id) : likelyProduct(step),
  );
  const [base, setBase] = useState(typed(row?.body.base_g));
  const [weighed, setWeighed] = useState<string | null>(row ? typed(row.body.hardener_g) : null);
  const [temp, setTemp] = useState(typed(row?.body.temp_c));
  const [stirred, setStirred] = useState<number | null>(
    row ? Date.parse(String(row.body.stirred_at)) : null,
  );
  const [tried, setTried] = useState(false);
  const mix = mixOf(product);
  const wanted = hardenerFor(mix, readNumber(base));
  const hardener = weighed ?? (wanted === null ? "" : typed(wanted, 1));
  const read = readNumbers({
    base: { text: base, least: 0, most: 1_000_000, needed: true },
    hardener: { text: hardener, least: 0, most: 1_000_000 },
    temp: { text: temp, least: -40, most: 70 },
  });
  const wrong = tried ? read.wrong : {};
  const save = async () => {
    setTried(true);
    if (!read.good || !product) return;
    const { base: base_g, hardener: hardener_g, temp: temp_c } = read.values;
    const stirred_at = new Date(stirred ?? now.value).toISOString();
    const numbers = {
      base_g: base_g ?? null,
      hardener_g: hardener_g ?? null,
      temp_c: temp_c ?? null,
    };
    const common = { product_id: product, stirred_at, ...(step ? { step_id: step } : {}) };
    const given = Object.fromEntries(Object.entries(numbers).filter(([, value]) => value !== null));
    const done = row
      ? await attempt(
          () => correct("mix", row.id, { ...common, ...numbers }),
          say("said.corrected"),
        )
      : await attempt(() => logMix({ ...common, ...given }), say("said.mix"));
    if (!done) return;
    if (row) back("now");
    else go("now");
  };
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <ProductPick
        value={product}
        onPick={(id) => {
          setProduct(id);
          setWeighed(null);
        }}
        wrong={tried && !product ? say("problem.missing") : undefined}
      />
      <Ratio mix={mix} />
      <NumberField
        label={say("mix.base_plain")}
        value={base}
        onInput={setBase}
        unit={say("unit.g")}
        wrong={wrong.base}
        testid="mix-base"
      />
      {wanted !== null && (
        <p class="weigh figures" data-testid="mix-weigh">
          {say("mix.weigh")} <b>{number(wanted)} g</b>
          <span class="quiet">{say("mix.total", { n: wanted + readNumber(base) })}</span>
        </p>
      )}
      <button type="submit" class="button button-main" data-testid="mix-save">
        {say(row ? "go.save" : "mix.start")}
      </button>
      <OffRatio wanted={wanted} given={readNumber(hardener)} />
      <Care product_id={product} />
      <More label={say("log.other_values")} open={row !== undefined} testid="mix-more">
        <NumberField
          label={say("mix.weighed")}
          value={hardener}
          onInput={setWeighed}
          unit={say("unit.g")}
          wrong={wrong.hardener}
          testid="mix-hardener"
        />
        <NumberField
          signed
          label={say("mix.temp")}
          value={temp}
          onInput={setTemp}
          unit={say("unit.c")}
          wrong={wrong.temp}
          testid="mix-temp"
        />
        <StepPick value={step} onPick={setStep} none={say("log.for_none")} />
        <WhenField
          label={say("mix.stirred")}
          value={stirred}
          onChange={setStirred}
          testid="mix-stirred"
        />
      </More>
    </form>
  );
}

function Ratio({ mix }: { mix: Mix }) {
  if (mix.by_mass)
    return (
      <p class="strong figures">
        {say("mix.ratio", { base: mix.by_mass.base, hardener: mix.by_mass.hardener })}
      </p>
    );
  if (mix.catalyst)
    return (
      <p class="strong figures">
        {say("mix.catalyst", {
          n: mix.catalyst.usual_pct,
          least: mix.catalyst.min_pct,
          most: mix.catalyst.max_pct,
        })}
      </p>
    );
  if (mix.by_volume)
    return (
      <p class="strong figures">
        {say("mix.ratio_volume", { base: mix.by_volume.base, hardener: mix.by_volume.hardener })}
      </p>
    );
  return <p class="quiet">{say("mix.no_ratio")}</p>;
}

/** A wrong ratio cures badly or never: said, not forbidden, since it may already be in the pot. */
function OffRatio({ wanted, given }: { wanted: number | null; given: number }) {
  if (wanted === null || wanted <= 0 || Number.isNaN(given)) return null;
  const off = (Math.abs(given - wanted) / wanted) * 100;
  if (off <= OFF_PCT) return null;
  return (
    <p class="verdict" data-tone="gone" role="status" data-testid="mix-off">
      {say("mix.off_ratio", { n: Math.round(off) })}
    </p>
  );
}
