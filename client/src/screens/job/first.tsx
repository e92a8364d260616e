/** What must be done first, as steps that one tap puts before another. */
import { useState } from "preact/hooks";
import type { ProposedStep } from "../../clocks/job_order.ts";
import type { TackCoat } from "../../clocks/tack_coat.ts";
import type { Profile } from "../../clocks/types.ts";
import { choiceOf, tell, tellOf } from "../../handbook/index.ts";
import { Pick } from "../../parts/fields.tsx";
import { canWork, productName } from "../../parts/know.ts";
import { prepareStep } from "../../store/acts/index.ts";
import type { Preparation } from "../../store/acts/prepare.ts";
import { type ItemRow, type Json, view } from "../../store/view.ts";
import { number } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { materialBy } from "./order.ts";

/** The product of each proposed coat, by its place among the steps. */
export type Products = Readonly<Record<number, string>>;

const HOUR_S = 3600;
const LATER = "later";
const lower = (words: string) => words.charAt(0).toLocaleLowerCase() + words.slice(1);
const titleOf = (one: ProposedStep) => tellOf("mend", one.title_key.replace(/^mend\./, ""));

/** A proposal as a step of the job; what its kind says well enough has no title of its own. */
const preparationOf = (one: ProposedStep, product_id: string | undefined): Preparation => ({
  ...{ kind: one.kind, labour_h: one.labour_h },
  title: one.kind === "coat" || one.kind === "inspect" ? titleOf(one) : "",
  ...(product_id && product_id !== LATER ? { product_id } : {}),
  ...(one.tack ? { tack: true, wait_s: one.tack.wait_h * HOUR_S } : {}),
});

/** The products on the board that are what a proposal lays; a paste is spread in no thin coat. */
export function fitting({ material }: ProposedStep): ItemRow[] {
  if (material === null) return [];
  return view.value
    .items("product")
    .filter(({ fields: { profile } }) => materialBy(profile) === material && !isPaste(profile));
}

const isPaste = (profile: Json | undefined) =>
  (profile as Partial<Profile> | undefined)?.product_class === "epoxy_fillet";

/** Put proposals before a step. Where exactly one product fits, a coat has it; else it has what a person chose. */
export function putBefore(
  step_id: string,
  steps: readonly ProposedStep[],
  chosen: Products = {},
): Promise<void> {
  const productOf = (one: ProposedStep, n: number) => {
    const fit = fitting(one);
    return fit.length === 1 ? fit[0]?.id : chosen[n];
  };
  return prepareStep(
    step_id,
    steps.map((one, n) => preparationOf(one, productOf(one, n))),
  );
}

/** How a tack coat is laid: its film, its thinner, and the wait until the full coat. */
export const tackInWords = (tack: TackCoat) =>
  tell("tack.how", {
    min: number(tack.wet_film_min_um),
    max: number(tack.wet_film_max_um),
    thinner: number(tack.thinning_pct),
    wait: number(tack.wait_h),
  });

/** A proposal in one line: what is done, its labour, and how a tack coat is laid. */
export function proposalInWords(one: ProposedStep): string {
  const labour =
    one.labour_h === null ? "" : ` (${say("step.hours", { n: number(one.labour_h) })})`;
  return `${titleOf(one)}${labour}${one.tack ? `. ${tackInWords(one.tack)}` : ""}`;
}

export function First(props: {
  steps: readonly ProposedStep[];
  or_else: readonly ProposedStep[];
  onPut: (steps: readonly ProposedStep[], products: Products) => Promise<unknown>;
  label?: string;
  testid: string;
}) {
  const { steps, or_else, onPut, label, testid } = props;
  if (steps.length === 0) return null;
  return (
    <>
      <p class="strong">{tell("ready.first")}</p>
      <Way steps={steps} onPut={onPut} label={label ?? tell("ready.put")} testid={testid} />
      {or_else.length > 0 && (
        <>
          <p class="strong">{tell("ready.or_else")}</p>
          <Way
            steps={or_else}
            onPut={onPut}
            label={tell("ready.put_else")}
            testid={`${testid}-else`}
          />
        </>
      )}
    </>
  );
}

/** One way: its steps, the products that its coats want, and the tap that puts them in. */
function Way(props: {
  steps: readonly ProposedStep[];
  onPut: (steps: readonly ProposedStep[], products: Products) => Promise<unknown>;
  label: string;
  testid: string;
}) {
  const { steps, onPut, label, testid } = props;
  const [busy, setBusy] = useState(false);
  const [tried, setTried] = useState(false);
  const [chosen, setChosen] = useState<Products>({});
  const lacking = steps.some((one, n) => fitting(one).length > 1 && !chosen[n]);
  const put = async () => {
    setTried(true);
    if (lacking) return;
    setBusy(true);
    await onPut(steps, chosen);
    setBusy(false);
  };
  return (
    <>
      <ol data-testid={`${testid}-first`}>
        {steps.map((one, n) => (
          <li key={`${one.kind}${n}`}>
            {n + 1}. {titleOf(one)}
            {one.labour_h !== null && ` (${say("step.hours", { n: number(one.labour_h) })})`}
            {one.tack && <p data-testid={`${testid}-tack`}>{tackInWords(one.tack)}</p>}
            {canWork() && one.material !== null && (
              <Laid
                step={one}
                chosen={chosen[n] ?? ""}
                onPick={(id) => setChosen({ ...chosen, [n]: id })}
                wrong={tried && !chosen[n]}
                testid={testid}
              />
            )}
          </li>
        ))}
      </ol>
      {canWork() && (
        <button
          type="button"
          class="button button-wide"
          disabled={busy}
          onClick={put}
          data-testid={`${testid}-put`}
        >
          {label}
        </button>
      )}
    </>
  );
}

/** With what a proposed coat is laid: named where one product fits, asked where several do. */
function Laid(props: {
  step: ProposedStep;
  chosen: string;
  onPick: (product_id: string) => void;
  wrong: boolean;
  testid: string;
}) {
  const { step, chosen, onPick, wrong, testid } = props;
  const fit = fitting(step);
  const what = lower(choiceOf("over", step.material ?? ""));
  const [only] = fit;
  if (!only)
    return (
      <p class="quiet" data-testid={`${testid}-laid`}>
        {tell("ready.no_product", { what })}
      </p>
    );
  if (fit.length === 1)
    return (
      <p class="quiet" data-testid={`${testid}-laid`}>
        {tell("ready.with", { product: productName(only.id) })}
      </p>
    );
  return (
    <Pick
      label={tell("ready.which", { what })}
      value={chosen}
      options={[
        ...fit.map((row) => ({ value: row.id, label: productName(row.id) })),
        { value: LATER, label: tell("ready.which_later") },
      ]}
      none={chosen ? undefined : tell("ready.choose")}
      onPick={onPick}
      wrong={wrong ? say("problem.missing") : undefined}
      testid={`${testid}-product`}
    />
  );
}
