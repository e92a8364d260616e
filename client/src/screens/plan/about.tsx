/** One step of the plan: when, who, why it sits there, its window and its cure, and the way to its job. */
import { useLayoutEffect, useRef } from "preact/hooks";
import { to } from "../../parts/router.ts";
import { type PlanStep, piecesOf } from "../../plan/types.ts";
import { say, sayOf } from "../../words/index.ts";
import { jobOf, kindOf, nameOf, placeOf } from "./facts.ts";
import { fromTo } from "./instants.ts";
import { KindIcon } from "./kindicon.tsx";
import { cureInWords, peopleInWords, whyInWords, windowInWords } from "./planwords.ts";

export function About({ step, onClose }: { step: PlanStep | undefined; onClose: () => void }) {
  const head = useRef<HTMLHeadingElement>(null);
  useLayoutEffect(() => head.current?.focus({ preventScroll: true }), []);
  useLayoutEffect(() => closeByEscape(onClose), []);
  if (!step) return null;
  const kind = kindOf(step.step_id);
  return (
    <section
      class="plan-about"
      aria-label={nameOf(step.step_id)}
      data-testid="plan-about"
      data-step={step.step_id}
    >
      <h2 tabIndex={-1} ref={head}>
        <KindIcon kind={kind} /> {nameOf(step.step_id)}
      </h2>
      <p class="strong">
        {[sayOf("kind", kind), placeOf(step.step_id)].filter(Boolean).join(" · ")}
      </p>
      <Pieces step={step} />
      {whyInWords(step.why) && <p data-testid="plan-why">{whyInWords(step.why)}</p>}
      {windowInWords(step) && (
        <p class={step.missed ? "problem" : "gap"} data-testid="plan-window">
          {windowInWords(step)}
        </p>
      )}
      {cureInWords(step) && <p>{cureInWords(step)}</p>}
      <div class="buttons">
        <a class="button" href={to("job", jobOf(step.step_id)?.id ?? "")} data-testid="plan-job">
          {say("plan.to_job")}
        </a>
        <button type="button" class="button" onClick={onClose} data-testid="plan-about-close">
          {say("go.close")}
        </button>
      </div>
    </section>
  );
}

function closeByEscape(close: () => void): () => void {
  const hear = ({ key }: KeyboardEvent): void => {
    if (key === "Escape") close();
  };
  addEventListener("keydown", hear);
  return () => removeEventListener("keydown", hear);
}

function Pieces({ step }: { step: PlanStep }) {
  return (
    <ul class="figures">
      {piecesOf(step).map((piece) => {
        const [from, until] = fromTo(Date.parse(piece.start_at), Date.parse(piece.end_at));
        return (
          <li key={piece.start_at}>
            {say("plan.from_to", { from, to: until })}, {peopleInWords(piece.member_ids)}
          </li>
        );
      })}
    </ul>
  );
}
