/** Steps as chalk strokes in fives: drawn for done, hollow for open. The number stands beside it in words. */
import { say } from "../words/index.ts";

export function Tally({ done, all }: { done: number; all: number }) {
  const shown = Math.min(all, 20);
  const width = shown * 9 + Math.floor(shown / 5) * 6;
  return (
    <span class="tally">
      <svg width={width} height="22" aria-hidden="true" focusable="false">
        {Array.from({ length: shown }, (_, place) => (
          <path
            key={place}
            class={place < done ? "stroke-done" : "stroke-open"}
            d={`M${place * 9 + Math.floor(place / 5) * 6 + 5} 2l-2 18`}
          />
        ))}
      </svg>
      <span>{say("state.done_of", { n: all, done })}</span>
    </span>
  );
}
