/**
 * The timeline: a row for each person or zone, days sideways with the names kept in view. One stop for the keyboard: the
 * arrows go from bar to bar and from row to row.
 */
import { useLayoutEffect, useRef } from "preact/hooks";
import { xOf } from "../../plan/axis.ts";
import { type Proposal, piecesOf } from "../../plan/types.ts";
import { say } from "../../words/index.ts";
import { Head } from "./head.tsx";
import { minute } from "./instants.ts";
import { move } from "./keys.ts";
import { Patterns } from "./patterns.tsx";
import { RowLine } from "./row.tsx";
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

export function Timeline(props: {
  proposal: Proposal;
  grouping: Grouping;
  zoom: Zoom;
  onPick: (step_id: string, from: HTMLElement) => void;
}) {
  const { proposal, grouping, zoom, onPick } = props;
  const board = useRef<HTMLDivElement>(null);
  const axis = axisOf(proposal, planDays(proposal), SCALES[zoom]);
  const rows = rowsOf(proposal, axis, grouping);
  useLayoutEffect(() => {
    board.current?.scrollTo({
      left: Math.max(0, xOf(axis, firstAhead(proposal)) - MARGIN_PX[zoom]),
    });
  }, []);
  return (
    <section
      class="plan-board"
      ref={board}
      aria-label={say("plan.timeline")}
      data-testid="plan-timeline"
      data-zoom={zoom}
      onKeyDown={(event) => move(event, board.current)}
    >
      <Patterns />
      <Head axis={axis} hours={zoom === "day"} />
      {rows.map((row, n) => (
        <RowLine
          key={row.id}
          row={row}
          name={rowName(row.id, grouping)}
          grouping={grouping}
          axis={axis}
          first={n === 0}
          onPick={onPick}
        />
      ))}
    </section>
  );
}
