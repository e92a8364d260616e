/** May I coat now? The answer on the step itself, each rule with its reason and source, and what to do first. */
import { mayCoatNow, type Readiness } from "../../clocks/readiness.ts";
import { TACK_COAT } from "../../clocks/tack_coat.ts";
import { choiceOf, tell, tellOf, withHandbook } from "../../handbook/index.ts";
import { DONE, flag, item, openCoat, when } from "../../parts/know.ts";
import { to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { stepStates, stepStories } from "../../store/derived.ts";
import { now } from "../../store/now.ts";
import { CoatFactsOf } from "../../store/reckon/coat_facts.ts";
import { ClockBook } from "../../store/reckon/sources.ts";
import { view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { First, putBefore, tackInWords } from "./first.tsx";
import { isToldByOrder } from "./order.ts";
import { ruleInWords } from "./rulewords.ts";

const MOMENT_MS = 15_000;
const TONES = { yes: "open", not_yet: "waiting", no: "gone" } as const;
const book = new ClockBook();

interface Answer extends Readiness {
  /** What is to be done first stands before the step already. */
  put_in: boolean;
}

/** The whole answer for a step, from what this phone has; null where a step cannot be asked. */
function answerFor(step_id: string): Answer | null {
  const at = Math.ceil(now.value / MOMENT_MS) * MOMENT_MS;
  const facts = new CoatFactsOf(view.value, stepStories.value, at, book);
  const asked = facts.question(step_id);
  if (!asked) return null;
  const readiness = mayCoatNow(asked.facts, asked.track);
  const open = facts.openBefore(step_id);
  const ways = [readiness.do_first, readiness.or_else].filter((way) => way.length > 0);
  return { ...readiness, put_in: ways.some((way) => way.every((one) => open.has(one.kind))) };
}

function MayCoat({ path }: { path: string[] }) {
  const [step_id = ""] = path;
  const done = DONE.has(stepStates.value.get(step_id) ?? "") || openCoat(step_id);
  const found = done ? null : answerFor(step_id);
  if (!found) return null;
  const { answer, until_at, rules } = found;
  const until = until_at === null ? "" : when(until_at);
  const step = item("step", step_id);
  const told = found.put_in || (step !== undefined && isToldByOrder(step));
  const bad = rules.filter((rule) => rule.outcome !== "ok" && rule.outcome !== "not_checked");
  return (
    <section
      class="may-coat"
      aria-label={tell("ready.title")}
      data-testid="readiness"
      data-answer={answer}
    >
      <div class="verdict" data-tone={TONES[answer]}>
        <p class="big-time">
          {tell("ready.title")}{" "}
          {tellOf("ready", until ? `${answer}_until` : answer, until ? { when: until } : {})}
        </p>
        {flag(step, "tack") && <p data-testid="readiness-tack">{tackInWords(TACK_COAT)}</p>}
        {bad.map((rule) => (
          <p key={`${rule.rule}${rule.params.step_id ?? ""}`} data-testid="readiness-why">
            {ruleInWords(rule)}
          </p>
        ))}
        {bad.some((rule) => rule.rule === "reading") && (
          <a class="line-link" href={to("log", "reading")} data-testid="readiness-reading">
            {say("air.take")}
          </a>
        )}
      </div>
      {!told && (
        <First
          steps={found.do_first}
          or_else={found.or_else}
          onPut={(steps, products) =>
            attempt(() => putBefore(step_id, steps, products), tell("ready.put_in"))
          }
          testid="readiness"
        />
      )}
      <details>
        <summary data-testid="readiness-rules">{tell("ready.rules")}</summary>
        <ul class="lines">
          {rules.map((rule) => (
            <li
              key={`${rule.rule}${rule.params.step_id ?? ""}`}
              data-testid="readiness-rule"
              data-rule={rule.rule}
            >
              <b>
                {choiceOf("rule", rule.rule)}: {choiceOf("outcome", rule.outcome)}
              </b>
              <p>{ruleInWords(rule)}</p>
              <p class="quiet" lang="en">
                {rule.source}
              </p>
            </li>
          ))}
        </ul>
        <p class="quiet">{say("caution.defer")}</p>
      </details>
    </section>
  );
}

export const mayCoat = () => withHandbook(MayCoat);
