/** One row of a timeline: its name, kept in view, the picture of its bars, and the buttons over them. */
import { type Axis, xOf } from "../../plan/axis.ts";
import type { Reach } from "../../plan/lanes.ts";
import type { Bar, Row } from "../../plan/rows.ts";
import { barMeets } from "../../plan/sight.ts";
import { say } from "../../words/index.ts";
import { BAR_PX, BarButton, BarSign } from "./bar.tsx";
import { launchAt } from "./facts.ts";
import { inSight, Mark, NowMark } from "./head.tsx";
import { closedOf, type Grouping } from "./view.ts";

const LANE_PX = BAR_PX + 4;
const TOP_PX = 3;

/** What a row on a screen has besides one on paper, where all is drawn and nothing tapped. */
export interface Live {
  sight: Reach;
  /** The number of the bar at which the tab key stops; -1 where that is in another row. */
  stop: number;
  onHold: (row_id: string, bar: Bar) => void;
  onPick: (step_id: string, from: HTMLElement) => void;
}

export function RowLine(props: {
  row: Row;
  name: string;
  grouping: Grouping;
  axis: Axis;
  live?: Live;
}) {
  const { row, name, grouping, axis, live } = props;
  const height = row.lanes * LANE_PX + 2 * TOP_PX;
  const words = say("plan.row", { name, n: new Set(row.bars.map(({ step }) => step)).size });
  const y = (bar: Bar): number => bar.lane * LANE_PX + TOP_PX;
  const drawn = drawnOf(row, live);
  return (
    <div class="plan-row" data-row={row.id} data-testid="plan-row">
      <div class="plan-name">
        <span>{name}</span>
      </div>
      <div class="plan-lane">
        <svg class="plan-line" width={axis.width} height={height} role="img" aria-label={words}>
          <Ground id={row.id} grouping={grouping} axis={axis} height={height} sight={live?.sight} />
          {drawn.map(([key, bar]) => (
            <BarSign key={key} bar={bar} y={y(bar)} by_person={grouping === "person"} />
          ))}
          <NowMark axis={axis} height={height} />
          <Mark axis={axis} ms={launchAt()} kind="launch" height={height} />
        </svg>
        {live && (
          <ul aria-label={words}>
            {drawn.map(([key, bar, n]) => (
              <BarButton
                key={key}
                bar={bar}
                y={y(bar)}
                place={n + 1}
                among={row.bars.length}
                stop={n === live.stop}
                onHold={() => live.onHold(row.id, bar)}
                onPick={live.onPick}
              />
            ))}
          </ul>
        )}
      </div>
    </div>
  );
}

/** What tells a bar from all others of its row. */
export const keyOf = ({ step, start }: Bar): string => `${step.step_id} ${start}`;

/** The bars that are drawn, each with its key and its number: those in sight, and the one that holds the tab key. */
function drawnOf({ bars }: Row, live: Live | undefined): [string, Bar, number][] {
  return bars.flatMap((bar, n): [string, Bar, number][] =>
    !live || n === live.stop || barMeets(bar, live.sight) ? [[keyOf(bar), bar, n]] : [],
  );
}

/** Behind the bars: the hours in which nobody works here, and the midnights. */
function Ground(props: {
  id: string;
  grouping: Grouping;
  axis: Axis;
  height: number;
  sight: Reach | undefined;
}) {
  const { id, grouping, axis, height, sight } = props;
  const days = inSight(axis.days, sight);
  return (
    <>
      {closedOf(id, grouping, days).map(([from, to]) => (
        <rect
          key={from}
          class="plan-closed"
          x={xOf(axis, from)}
          width={Math.max(0, xOf(axis, to) - xOf(axis, from))}
          y="0"
          height={height}
        />
      ))}
      {days.map((day) => (
        <line key={day.on} class="plan-midnight" x1={day.x} x2={day.x} y1="0" y2={height} />
      ))}
    </>
  );
}
