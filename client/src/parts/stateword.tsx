/** A step's state in a word, with its colour and a shape that works without colour. */
import type { StepState } from "../store/derived.ts";
import { sayOf } from "../words/index.ts";
import { toneOf } from "./know.ts";

export function StateWord({ state }: { state: StepState }) {
  return (
    <span class="state" data-tone={toneOf(state)} data-state={state} data-testid="state">
      {sayOf("state", state)}
    </span>
  );
}
