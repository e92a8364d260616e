/** The line of days above a timeline, and what goes through all its rows: closed hours, midnights, now and the launch. */

import { type Axis, type Day, xOf } from "../../plan/axis.ts";
import type { Reach } from "../../plan/lanes.ts";
import { meets } from "../../plan/sight.ts";
import { say } from "../../words/index.ts";
import { launchAt } from "./facts.ts";
import { dayAt, minute, monthOf, shortDay, timeIn } from "./instants.ts";

const HEIGHT = 62;
const HOUR_MS = 3_600_000;
const NOON_MS = 12 * HOUR_MS;
const AGAIN_PX = 190;
/** A day's name with its month takes as much. */
const NAME_PX = 120;

interface HeadProps {
  axis: Axis;
  hours: boolean;
  /** What is in sight; all of it on paper. */
  sight?: Reach;
}

/** What of a line is in sight. */
export function inSight<T extends { x: number; width: number }>(
  all: readonly T[],
  sight: Reach | undefined,
): readonly T[] {
  return sight ? all.filter(({ x, width }) => meets({ from: x, to: x + width }, sight)) : all;
}

export function Head({ axis, hours, sight }: HeadProps) {
  return (
    <div class="plan-row plan-head">
      <div class="plan-name" />
      <svg
        class="plan-line figures"
        width={axis.width}
        height={HEIGHT}
        aria-hidden="true"
        focusable="false"
      >
        {inSight(axis.days, sight).map((day) => (
          <g key={day.on}>
            <line class="plan-midnight" x1={day.x} x2={day.x} y1="0" y2={HEIGHT} />
            <svg
              x={day.x + 4}
              y="0"
              width={Math.max(0, day.width - 4)}
              height="26"
              overflow="hidden"
              aria-hidden="true"
            >
              <text class="plan-day" x="0" y="19">
                {hours && day.width >= NAME_PX
                  ? dayAt(day.from + NOON_MS)
                  : shortDay(day.from + NOON_MS)}
              </text>
              {hours && <Again day={day} />}
            </svg>
          </g>
        ))}
        {!hours && <Months axis={axis} />}
        {hours &&
          inSight(axis.stretches, sight)
            .filter(({ open }) => open)
            .map((one) => <Hours key={one.from} one={one} />)}
        <NowMark axis={axis} words={say("plan.now")} height={HEIGHT} />
        <Mark axis={axis} ms={launchAt()} kind="launch" words={say("now.launch")} height={HEIGHT} />
      </svg>
    </div>
  );
}

/** The day's name again and again along a wide day, so that it is in sight wherever one looks. */
function Again({ day }: { day: Day }) {
  const more = Math.floor((day.width - AGAIN_PX / 2) / AGAIN_PX);
  return (
    <>
      {Array.from({ length: Math.max(0, more) }, (_, n) => (
        <text key={AGAIN_PX * (n + 1)} class="plan-day" x={AGAIN_PX * (n + 1)} y="19">
          {dayAt(day.from + NOON_MS)}
        </text>
      ))}
    </>
  );
}

/** The month where it begins, and where the days begin. */
function Months({ axis }: { axis: Axis }) {
  return (
    <>
      {axis.days
        .filter((day, n) => n === 0 || day.on.endsWith("-01"))
        .map((day) => (
          <text key={day.on} class="plan-hour" x={day.x + 4} y="40">
            {monthOf(day.from + NOON_MS)}
          </text>
        ))}
    </>
  );
}

/** Every second hour of the working day. */
function Hours({ one }: { one: Axis["stretches"][number] }) {
  const ticks: number[] = [];
  const first = Math.ceil(one.from / HOUR_MS) * HOUR_MS;
  for (let ms = first; ms < one.to; ms += 2 * HOUR_MS) ticks.push(ms);
  const x = (ms: number) => one.x + ((ms - one.from) / (one.to - one.from)) * one.width;
  return (
    <>
      {ticks.map((ms) => (
        <text key={ms} class="plan-hour" x={x(ms) + 3} y="44">
          {timeIn(ms)}
        </text>
      ))}
    </>
  );
}

interface MarkProps {
  axis: Axis;
  ms: number;
  kind: "now" | "launch";
  words?: string;
  height: number;
}

/** It alone moves with the minutes; the bars stay as they are drawn. */
export const NowMark = (props: Omit<MarkProps, "ms" | "kind">) => (
  <Mark {...props} ms={minute.value} kind="now" />
);

/** A line through all rows; null where it lies off the days that are drawn. */
export function Mark({ axis, ms, kind, words, height }: MarkProps) {
  const [from, to] = [axis.stretches[0]?.from ?? 0, axis.stretches.at(-1)?.to ?? 0];
  if (Number.isNaN(ms) || ms < from || ms >= to) return null;
  const x = xOf(axis, ms);
  const top = words ? 46 : 0;
  return (
    <g class={`plan-mark plan-mark-${kind}`}>
      {kind === "launch" && <line class="plan-mark-wide" x1={x} x2={x} y1={top} y2={height} />}
      <line class="plan-mark-line" x1={x} x2={x} y1={top} y2={height} />
      {words && (
        <text class="plan-mark-words" x={x + 7} y="59">
          {words}
        </text>
      )}
    </g>
  );
}
