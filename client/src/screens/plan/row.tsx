/** One row of a timeline: its name, kept in view, the picture of its bars, and the buttons over them. */
import { type Axis, xOf } from "../../plan/axis.ts";
import type { Bar, Row } from "../../plan/rows.ts";
import { say } from "../../words/index.ts";
import { BAR_PX, BarButton, BarSign } from "./bar.tsx";
import { launchAt } from "./facts.ts";
import { Mark, NowMark } from "./head.tsx";
import { minute } from "./instants.ts";
import { closedOf, type Grouping } from "./view.ts";

const LANE_PX = BAR_PX + 4;
const TOP_PX = 3;

export function RowLine(props: {
  row: Row;
  name: string;
  grouping: Grouping;
  axis: Axis;
  first: boolean;
  /** Nothing is tapped on paper. */
  onPick?: (step_id: string, from: HTMLElement) => void;
}) {
  const { row, name, grouping, axis, first, onPick } = props;
  const height = row.lanes * LANE_PX + 2 * TOP_PX;
  const words = say("plan.row", { name, n: new Set(row.bars.map(({ step }) => step)).size });
  const y = (bar: Bar): number => bar.lane * LANE_PX + TOP_PX;
  const keyOf = ({ step, start }: Bar): string => `${step.step_id} ${start}`;
  const stop = first ? firstAhead(row.bars) : -1;
  return (
    <div class="plan-row" data-row={row.id} data-testid="plan-row">
      <div class="plan-name">
        <span>{name}</span>
      </div>
      <div class="plan-lane">
        <svg class="plan-line" width={axis.width} height={height} role="img" aria-label={words}>
          <Ground id={row.id} grouping={grouping} axis={axis} height={height} />
          {row.bars.map((bar) => (
            <BarSign key={keyOf(bar)} bar={bar} y={y(bar)} by_person={grouping === "person"} />
          ))}
          <NowMark axis={axis} height={height} />
          <Mark axis={axis} ms={launchAt()} kind="launch" height={height} />
        </svg>
        {onPick && (
          <ul aria-label={words}>
            {row.bars.map((bar, n) => (
              <BarButton key={keyOf(bar)} bar={bar} y={y(bar)} stop={n === stop} onPick={onPick} />
            ))}
          </ul>
        )}
      </div>
    </div>
  );
}

/** Where the tab key comes in: at what is on now or comes next. */
function firstAhead(bars: readonly Bar[]): number {
  return Math.max(
    0,
    bars.findIndex(({ end }) => end > minute.peek()),
  );
}

/** Behind the bars: the hours in which nobody works here, and the midnights. */
function Ground(props: { id: string; grouping: Grouping; axis: Axis; height: number }) {
  const { id, grouping, axis, height } = props;
  return (
    <>
      {closedOf(id, grouping, axis).map(([from, to]) => (
        <rect
          key={from}
          class="plan-closed"
          x={xOf(axis, from)}
          width={Math.max(0, xOf(axis, to) - xOf(axis, from))}
          y="0"
          height={height}
        />
      ))}
      {axis.days.map((day) => (
        <line key={day.on} class="plan-midnight" x1={day.x} x2={day.x} y1="0" y2={height} />
      ))}
    </>
  );
}
