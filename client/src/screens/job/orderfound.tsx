/** A step that would be wrong: over what, why and by whose word, and what can be done about it. */
import type { ComponentChildren } from "preact";
import type { Finding, ProposedStep } from "../../clocks/job_order.ts";
import { choiceOf, tell, tellOf } from "../../handbook/index.ts";
import { canWork, item, stepName, text } from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import { holdStep } from "../../store/acts/index.ts";
import type { ItemRow } from "../../store/view.ts";
import { First, type Products, putBefore } from "./first.tsx";
import { belowJob, findingsIn, isRefused, plannedIn } from "./order.ts";

const QUESTION_MAX_N = 500;

const lower = (words: string) => words.charAt(0).toLocaleLowerCase() + words.slice(1);

export function findingInWords({ verdict, over, under, state }: Finding): string {
  return tellOf("order", verdict, {
    over: choiceOf("over", over),
    under: lower(choiceOf("under", under)),
    state: lower(choiceOf("state", state)),
  });
}

const whyOf = ({ reasons }: Finding) => reasons.map(({ code }) => tellOf("reason", code)).join(" ");

/** The question that a step is held with, where the table says no. */
const questionOf = (finding: Finding) =>
  `${findingInWords(finding)} ${tell("order.question", { why: whyOf(finding) })}`.slice(
    0,
    QUESTION_MAX_N,
  );

/** A way to mend a step that would be wrong, as a person took it. */
export interface Put {
  finding: Finding;
  steps: readonly ProposedStep[];
  products: Products;
}

export interface Held {
  held: "question";
  held_text: string;
}

/** What holds a step that the table refuses; nothing where it does not. */
export function holdOf(found: readonly Finding[], step_id: string): Held | null {
  const finding = found.filter(isRefused).find((one) => one.step_id === step_id);
  return finding ? { held: "question", held_text: questionOf(finding) } : null;
}

/** Hold every step that a change made wrong with the question whether it holds. */
export async function holdAll(found: readonly Finding[]): Promise<void> {
  for (const finding of found.filter(isRefused))
    await holdStep(finding.step_id, "question", questionOf(finding));
}

export function Found(props: { finding: Finding; name?: string; children?: ComponentChildren }) {
  const { finding, name, children } = props;
  return (
    <section
      class="may-coat"
      aria-label={name ? `${name}. ${findingInWords(finding)}` : findingInWords(finding)}
      data-testid="order-found"
      data-verdict={finding.verdict}
    >
      <div class="verdict" data-tone={isRefused(finding) ? "gone" : "closing"}>
        <p>{name ? `${name}. ${findingInWords(finding)}` : findingInWords(finding)}</p>
        {finding.reasons.map(({ code, source, contested }) => (
          <p key={code} data-testid="order-why">
            {tellOf("reason", code)}
            <small class="plain" lang="en">
              {source}
            </small>
            {contested && (
              <small class="plain" lang="en">
                {tell("sums.contested", { text: contested })}
              </small>
            )}
          </p>
        ))}
      </div>
      {children}
    </section>
  );
}

/** At a step that stands on the board: what is wrong with its place, and the steps that mend it. */
export function OrderHere({ step }: { step: ItemRow }) {
  const job_id = text(step, "job_id");
  const found = findingsIn(plannedIn(job_id), belowJob(job_id));
  return (
    <>
      {found
        .filter((finding) => finding.step_id === step.id)
        .map((finding) => (
          <Found key={finding.step_id} finding={finding}>
            <First
              steps={finding.proposals}
              or_else={finding.or_else}
              onPut={(steps, products) =>
                attempt(() => putBefore(step.id, steps, products), tell("ready.put_in"))
              }
              testid="order"
            />
          </Found>
        ))}
    </>
  );
}

/** In a form: what saving would make wrong, said while it is typed. */
export function OrderThere(props: {
  found: readonly Finding[];
  /** Saving was tried, and refused. */
  refused: boolean;
  /** The step that the form is about. */
  step_id: string;
  onPut: (put: Put) => Promise<unknown>;
  onHold: () => void;
}) {
  const { found, refused, step_id, onPut, onHold } = props;
  if (!canWork()) return null;
  const other = (id: string) => (id === step_id ? "" : stepName(item("step", id)));
  const noes = found.filter(isRefused);
  return (
    <>
      <div role="status" class="order">
        {found.map((finding) => (
          <Found key={finding.step_id} finding={finding} name={other(finding.step_id)}>
            {noes.every((one) => one === finding) && (
              <First
                steps={finding.proposals}
                or_else={finding.or_else}
                onPut={(steps, products) => onPut({ finding, steps, products })}
                label={tell("order.put")}
                testid="order-form"
              />
            )}
          </Found>
        ))}
      </div>
      {refused && noes.length > 0 && (
        <p class="problem" role="alert" data-testid="order-refused">
          {tell("order.refused")}
        </p>
      )}
      {noes.length > 0 && (
        <button type="button" class="button button-wide" onClick={onHold} data-testid="order-hold">
          {tell("order.hold")}
        </button>
      )}
    </>
  );
}

/** A move that would make a step wrong: it waits for a word. */
export function OrderOfMove(props: {
  found: readonly Finding[];
  onMove: () => Promise<void>;
  onLeave: () => void;
  leave: string;
}) {
  const { found, onMove, onLeave, leave } = props;
  const move = () =>
    attempt(async () => {
      await onMove();
      await holdAll(found);
    }, tell("order.held"));
  return (
    <div class="ask" role="alert" data-testid="order-move">
      <p class="strong">{tell("order.not_moved")}</p>
      {found.map((finding) => (
        <Found
          key={finding.step_id}
          finding={finding}
          name={stepName(item("step", finding.step_id))}
        />
      ))}
      <div class="buttons">
        <button
          type="button"
          class="button"
          data-testid="order-move-hold"
          onClick={async () => {
            if (await move()) onLeave();
          }}
        >
          {tell("order.hold_moved")}
        </button>
        <button type="button" class="button" onClick={onLeave}>
          {leave}
        </button>
      </div>
    </div>
  );
}
