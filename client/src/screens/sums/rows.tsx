/** Rows of an answer that have a sentence of their own: steps to put in, rules that were asked, steps that are wrong. */
import type { ComponentChildren } from "preact";
import type { Finding, ProposedStep } from "../../clocks/job_order.ts";
import type { RuleOutcome } from "../../clocks/readiness_air.ts";
import { choiceOf, tell, tellOf } from "../../handbook/index.ts";
import type { Json } from "../../store/view.ts";
import { proposalInWords } from "../job/first.tsx";
import { findingInWords } from "../job/orderfound.tsx";
import { ruleInWords } from "../job/rulewords.ts";

/** A row in words of its own; null where it has none. */
export function ownWords(row: Json): ComponentChildren {
  if (typeof row !== "object" || row === null || Array.isArray(row)) return null;
  if ("title_key" in row) return proposalInWords(row as unknown as ProposedStep);
  if ("rule" in row && "outcome" in row) return <Rule rule={row as unknown as RuleOutcome} />;
  return "proposals" in row ? <Wrong finding={row as unknown as Finding} /> : null;
}

function Rule({ rule }: { rule: RuleOutcome }) {
  return (
    <>
      {choiceOf("rule", rule.rule)}: {choiceOf("outcome", rule.outcome)}
      <small class="plain">{ruleInWords(rule)}</small>
      <small class="plain" lang="en">
        {rule.source}
      </small>
    </>
  );
}

function Wrong({ finding }: { finding: Finding }) {
  const { step_id, reasons, proposals, or_else } = finding;
  const listed = (steps: readonly ProposedStep[]) => steps.map(proposalInWords).join(" · ");
  return (
    <>
      {step_id}. {findingInWords(finding)}
      {reasons.map(({ code, source }) => (
        <small class="plain" key={code}>
          {tellOf("reason", code)} <span lang="en">{source}</span>
        </small>
      ))}
      {proposals.length > 0 && (
        <small class="plain">
          {tell("ready.first")} {listed(proposals)}
        </small>
      )}
      {or_else.length > 0 && (
        <small class="plain">
          {tell("ready.or_else")} {listed(or_else)}
        </small>
      )}
    </>
  );
}
