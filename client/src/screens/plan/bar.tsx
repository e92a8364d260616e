/**
 * One stretch of work as it is drawn: a box with the sign of its kind and its words, its window above it, its cure behind
 * it; and the button that lies over it, as wide as a glove's finger even where the work is short.
 */
import { DONE, zoneName } from "../../parts/know.ts";
import { type Bar, TAP_PX } from "../../plan/rows.ts";
import { piecesOf } from "../../plan/types.ts";
import { stepStates } from "../../store/derived.ts";
import { kindOf, nameOf, zoneIdOf } from "./facts.ts";
import { kindPath } from "./kindicon.tsx";
import { barInWords, peopleInWords } from "./planwords.ts";

export const BAR_PX = 54;
const [TOP, BOX] = [12, 40];
/** A box as wide as this holds its sign, and one as wide as that its words; beside a narrower one they stand free. */
const [HOLDS_SIGN, HOLDS_WORDS] = [38, 150];
/** The sign's width with the gap to the words, and how many px are too few for any words. */
const [SIGN_PX, LEAST_ROOM] = [28, 34];
const GAP = 5;
/** A cure lies below the step's name, where the second line of words would be. */
const CURE_Y = 22;

/** In the box; beside it where that is too narrow and there is room. */
function signAt({ x, width, room }: Bar): number {
  const beside = x + Math.max(width, 6) + 3;
  return width >= HOLDS_SIGN || beside + SIGN_PX > room ? x + 9 : beside;
}

const peopleOn = ({ step, start }: Bar): string[] =>
  (piecesOf(step).find((piece) => Date.parse(piece.start_at) === start) ?? step).member_ids;

export function BarSign({ bar, y, by_person }: { bar: Bar; y: number; by_person: boolean }) {
  const { step, x, width, missed } = bar;
  const done = DONE.has(stepStates.value.get(step.step_id) ?? "");
  return (
    <g transform={`translate(0 ${y})`} data-missed={missed} data-done={done}>
      {bar.window && <WindowSign {...bar.window} />}
      {bar.cure && (
        <rect
          class="plan-cure"
          x={bar.cure.from}
          y={TOP + CURE_Y}
          width={bar.cure.to - bar.cure.from}
          height={BOX - CURE_Y - 2}
        />
      )}
      <rect class="plan-box" x={x} y={TOP} width={Math.max(width, 6)} height={BOX} />
      <rect class="plan-edge" x={x} y={TOP} width="6" height={BOX} />
      <g transform={`translate(${signAt(bar)} ${TOP + 8})`}>
        <path class="plan-kind plan-halo" d={kindPath(kindOf(step.step_id))} />
        <path class="plan-kind" d={kindPath(kindOf(step.step_id))} />
      </g>
      <Words bar={bar} by_person={by_person} />
      {missed && <path class="plan-missed" d={`M${x + 12} 0h26l-13 16z`} />}
    </g>
  );
}

/** When it may start: a bracket filled with upright strokes, open at its end where it goes on. */
function WindowSign({ from, to, goes_on }: { from: number; to: number; goes_on: boolean }) {
  return (
    <>
      <rect class="plan-window" x={from} y="2" width={Math.max(2, to - from)} height="8" />
      <path
        class="plan-window-ends"
        d={`M${from + 5} 1h-4v10h4${goes_on ? "" : `M${to - 5} 1h4v10h-4`}`}
      />
    </>
  );
}

/** From where to where words may stand: in the box where it is wide, else where there is more room of the two, in it or beside it. */
function wordsAt(bar: Bar): { from: number; end: number; beside: boolean } {
  const { x, width, room } = bar;
  const after_sign = signAt(bar) + SIGN_PX;
  if (width < HOLDS_SIGN) return { from: after_sign, end: room, beside: true };
  const outside = x + width + GAP;
  const beside = width < HOLDS_WORDS && room - outside > x + width - after_sign;
  return { from: beside ? outside : after_sign, end: beside ? room : x + width, beside };
}

function Words({ bar, by_person }: { bar: Bar; by_person: boolean }) {
  const { step, cure } = bar;
  const { from, end, beside } = wordsAt(bar);
  const second = by_person ? zoneName(zoneIdOf(step.step_id)) : peopleInWords(peopleOn(bar));
  return (
    <>
      <Line x={from} end={end} y={17} words={nameOf(step.step_id)} />
      {!(cure && beside) && <Line x={from} end={end} y={35} words={second} more />}
    </>
  );
}

/** A line of words, cut at its end; none where there is room for a letter or two only. */
function Line(props: { x: number; end: number; y: number; words: string; more?: boolean }) {
  const { x, end, y, words, more } = props;
  const room = end - x - GAP;
  if (room < LEAST_ROOM) return null;
  return (
    <svg x={x} y={TOP} width={room} height={BOX} overflow="hidden" aria-hidden="true">
      <text class={more ? "plan-words plan-words-where" : "plan-words"} x="1" y={y}>
        {words}
      </text>
    </svg>
  );
}

export function BarButton(props: {
  bar: Bar;
  y: number;
  /** Its place among all of its row, of which only some are drawn. */
  place: number;
  among: number;
  /** The tab key stops here. */
  stop: boolean;
  onHold: () => void;
  onPick: (step_id: string, from: HTMLElement) => void;
}) {
  const { bar, y, place, among, stop, onHold, onPick } = props;
  const { step, x, width } = bar;
  return (
    <li aria-posinset={place} aria-setsize={among}>
      <button
        type="button"
        class="plan-bar"
        style={{ left: `${x}px`, top: `${y}px`, width: `${Math.max(width, TAP_PX)}px` }}
        tabIndex={stop ? 0 : -1}
        aria-label={barInWords(step, bar.start, bar.end, peopleOn(bar))}
        data-testid="plan-bar"
        data-step={step.step_id}
        data-missed={bar.missed}
        onFocus={onHold}
        onClick={(event) => {
          // A tap gives no focus everywhere, and this bar must stay drawn until the focus comes back to it.
          onHold();
          onPick(step.step_id, event.currentTarget);
        }}
      />
    </li>
  );
}
