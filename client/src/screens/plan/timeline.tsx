/**
 * The timeline: a row for each person or zone, days sideways with the names kept in view. One stop for the keyboard: the
 * arrows go from bar to bar and from row to row.
 */
import type { RefObject } from "preact";
import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { type Axis, instantAt, xOf } from "../../plan/axis.ts";
import type { Reach } from "../../plan/lanes.ts";
import type { Bar, Row } from "../../plan/rows.ts";
import { drawnFor } from "../../plan/sight.ts";
import { type Proposal, piecesOf } from "../../plan/types.ts";
import { say } from "../../words/index.ts";
import { Head } from "./head.tsx";
import { minute } from "./instants.ts";
import { type Spot, spotAfter } from "./keys.ts";
import { Patterns } from "./patterns.tsx";
import { keyOf, RowLine } from "./row.tsx";
import { axisOf, type Grouping, planDays, rowName, rowsOf, SCALES, type Zoom } from "./view.ts";

/** So much of the night before is in sight, and with it the name of the day. */
const MARGIN_PX = { day: 36, week: 12 };

/** Where a person looks first: at now while something is on, else at what comes next. */
function firstAhead(proposal: Proposal): number {
  const now = minute.peek();
  const ahead = proposal.steps
    .flatMap(piecesOf)
    .filter((piece) => Date.parse(piece.end_at) > now && piece.member_ids.length > 0)
    .map((piece) => Date.parse(piece.start_at));
  return ahead.length === 0 ? now : Math.max(now, Math.min(...ahead));
}

type Pick = (step_id: string, from: HTMLElement) => void;

/** The instant at the left of what somebody looks at; null until they looked. */
export type Looked = RefObject<number | null>;

export function Timeline(props: {
  proposal: Proposal;
  grouping: Grouping;
  zoom: Zoom;
  /** Outlasts this timeline: the next one, by zone or in whole weeks, begins where this one was left. */
  looked: Looked;
  onPick: Pick;
}) {
  const { proposal, grouping, zoom, looked, onPick } = props;
  const axis = axisOf(proposal, planDays(proposal), SCALES[zoom]);
  const first = xOf(axis, firstAhead(proposal)) - MARGIN_PX[zoom];
  return (
    <Board
      axis={axis}
      rows={rowsOf(proposal, axis, grouping)}
      start={Math.max(0, looked.current === null ? first : xOf(axis, looked.current))}
      looked={looked}
      grouping={grouping}
      zoom={zoom}
      onPick={onPick}
    />
  );
}

/** Where all lies is worked out above; this is drawn anew as somebody looks elsewhere. */
function Board(props: {
  axis: Axis;
  rows: readonly Row[];
  start: number;
  looked: Looked;
  grouping: Grouping;
  zoom: Zoom;
  onPick: Pick;
}) {
  const { axis, rows, start, looked, grouping, zoom, onPick } = props;
  const board = useRef<HTMLDivElement>(null);
  const sight = useSight(board, start, (left) => {
    looked.current = instantAt(axis, left);
  });
  const { here, hold, go } = useStop(board, rows);
  return (
    <section
      class="plan-board"
      ref={board}
      aria-label={say("plan.timeline")}
      data-testid="plan-timeline"
      data-zoom={zoom}
      onKeyDown={go}
    >
      <Patterns />
      <Head axis={axis} hours={zoom === "day"} sight={sight} />
      {rows.map((row, n) => (
        <RowLine
          key={row.id}
          row={row}
          name={rowName(row.id, grouping)}
          grouping={grouping}
          axis={axis}
          live={{ sight, stop: n === here.row ? here.bar : -1, onHold: hold, onPick }}
        />
      ))}
    </section>
  );
}

/** What of the line is drawn, from where it begins to wherever it is pushed. */
function useSight(
  board: RefObject<HTMLDivElement | null>,
  start: number,
  onLook: (left: number) => void,
): Reach {
  const [sight, setSight] = useState(() => drawnFor(start, innerWidth, null));
  const told = useRef(onLook);
  told.current = onLook;
  useLayoutEffect(() => {
    const one = board.current;
    if (!one) return;
    one.scrollTo({ left: start });
    const look = (): void => {
      told.current(one.scrollLeft);
      setSight((old) => drawnFor(one.scrollLeft, one.clientWidth, old));
    };
    look();
    const watcher = new ResizeObserver(look);
    watcher.observe(one);
    one.addEventListener("scroll", look, { passive: true });
    return () => {
      watcher.disconnect();
      one.removeEventListener("scroll", look);
    };
  }, []);
  return sight;
}

/** The bar at which the tab key stops: what comes next in the first row, then wherever the focus was last. */
function useStop(board: RefObject<HTMLDivElement | null>, rows: readonly Row[]) {
  const [held, setHeld] = useState({ row_id: "", key: "" });
  const going = useRef(false);
  const here = spotOf(rows, held) ?? { row: 0, bar: nextOf(rows[0]) };
  const hold = (row_id: string, bar: Bar): void => {
    const key = keyOf(bar);
    setHeld((old) => (old.row_id === row_id && old.key === key ? old : { row_id, key }));
  };
  const go = (event: KeyboardEvent): void => {
    if (!(event.target as Element).matches(".plan-bar")) return;
    const found = spotAfter(event.key, here, rows);
    const row = found && rows[found.row];
    const bar = found && row?.bars[found.bar];
    if (!row || !bar) return;
    event.preventDefault();
    going.current = true;
    hold(row.id, bar);
  };
  // Where an arrow leads is drawn first, and takes the focus then.
  useLayoutEffect(() => {
    if (!going.current) return;
    going.current = false;
    board.current?.querySelector<HTMLElement>(".plan-bar[tabindex='0']")?.focus();
  });
  return { here, hold, go };
}

function spotOf(rows: readonly Row[], held: { row_id: string; key: string }): Spot | null {
  const row = rows.findIndex(({ id }) => id === held.row_id);
  const bar = rows[row]?.bars.findIndex((one) => keyOf(one) === held.key) ?? -1;
  return bar < 0 ? null : { row, bar };
}

/** What is on now or comes next in a row. */
const nextOf = (row: Row | undefined): number =>
  Math.max(0, row?.bars.findIndex(({ end }) => end > minute.peek()) ?? 0);
