/** Labour done, by day, against all that is known, with the forecast's fan and the launch; and the same in a sentence. */
import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { yardZone } from "../../parts/know.ts";
import { chartOf, type Outcome, outcomeOf } from "../../plan/chart.ts";
import type { BurnUp } from "../../plan/types.ts";
import { dayOf, number } from "../../words/dates.ts";
import { say } from "../../words/index.ts";
import { launchAt } from "./facts.ts";
import { dayWritten } from "./instants.ts";

const [LEFT, RIGHT, TOP, BOTTOM] = [52, 14, 48, 34];

export function BurnUpChart({ burn_up }: { burn_up: BurnUp }) {
  const room = useRef<HTMLElement>(null);
  const width = useWidth(room);
  const height = Math.min(460, Math.max(280, width * 0.6));
  const launch_on = dayOf(launchAt(), yardZone());
  const box = { x: LEFT, y: TOP, width: width - LEFT - RIGHT, height: height - TOP - BOTTOM };
  const chart = chartOf(burn_up, launch_on, box);
  const bottom = box.y + box.height;
  return (
    <figure class="plan-burn" ref={room} data-testid="plan-burn-up">
      <svg
        class="figures"
        width={width}
        height={height}
        role="img"
        aria-label={inASentence(burn_up, launch_on)}
      >
        <Patterns />
        {chart.grid.map(({ y, value }) => (
          <g key={value}>
            <line class="plan-grid" x1={box.x} x2={box.x + box.width} y1={y} y2={y} />
            <text class="plan-axis" x={box.x - 6} y={y + 6} text-anchor="end">
              {number(value, 0)}
            </text>
          </g>
        ))}
        <text class="plan-axis" x="0" y="16">
          {say("plan.axis_hours")}
        </text>
        <polygon class="plan-fan" points={chart.fan} />
        <polyline class="plan-fan-edge" points={chart.low} />
        <polyline class="plan-fan-edge" points={chart.high} />
        <line
          class="plan-scope"
          x1={box.x}
          x2={box.x + box.width}
          y1={chart.scope_y}
          y2={chart.scope_y}
        />
        <polyline class="plan-p50" points={chart.mid} />
        <polyline class="plan-done-line" points={chart.done} />
        {chart.launch_x !== null && (
          <g>
            <line
              class="plan-mark-wide"
              x1={chart.launch_x}
              x2={chart.launch_x}
              y1={box.y}
              y2={bottom}
            />
            <text
              class="plan-axis plan-strong"
              x={chart.launch_x - 6}
              y={box.y - 8}
              text-anchor={chart.launch_x > width / 2 ? "end" : "start"}
            >
              {say("now.launch")}
            </text>
          </g>
        )}
        <line class="plan-base" x1={box.x} x2={box.x + box.width} y1={bottom} y2={bottom} />
        {chart.ends.map(({ x, on, anchor }) => (
          <text key={on} class="plan-axis" x={x} y={bottom + 22} text-anchor={anchor}>
            {dayWritten(on)}
          </text>
        ))}
      </svg>
      <figcaption>
        <p>{inASentence(burn_up, launch_on)}</p>
        <Legend />
      </figcaption>
    </figure>
  );
}

function Patterns() {
  return (
    <defs>
      <pattern
        id="plan-fan"
        width="8"
        height="8"
        patternUnits="userSpaceOnUse"
        patternTransform="rotate(45)"
      >
        <rect class="plan-fan-ink" width="2" height="8" />
      </pattern>
    </defs>
  );
}

function inASentence(burn_up: BurnUp, launch_on: string): string {
  const now_h = burn_up.done.at(-1)?.labour_h ?? 0;
  const done = say("plan.burn_done", { done: whole(now_h), scope: whole(burn_up.scope_h) });
  return `${done} ${comesTo(outcomeOf(burn_up, launch_on))}`.trim();
}

const whole = (hours: number): string => number(hours, 0);

function comesTo(one: Outcome): string {
  if (one === null) return "";
  if (one.kind === "over")
    return say("plan.burn_over", { mid: dayWritten(one.mid), high: dayWritten(one.high) });
  const figures = { low: whole(one.low), mid: whole(one.mid), high: whole(one.high) };
  return one.kind === "launch"
    ? say("plan.burn_launch", figures)
    : say("plan.burn_ahead", { ...figures, day: dayWritten(one.on) });
}

function Legend() {
  const line = (name: string) => <line class={name} x1="2" x2="50" y1="12" y2="12" />;
  const signs = [
    [say("plan.line_done"), line("plan-done-line")],
    [say("plan.line_mid"), line("plan-p50")],
    [say("plan.line_fan"), <rect key="fan" class="plan-fan" x="2" y="2" width="48" height="20" />],
    [say("plan.line_scope"), line("plan-scope")],
  ] as const;
  return (
    <ul class="plan-key">
      {signs.map(([words, sign]) => (
        <li key={words}>
          <svg width="52" height="24" aria-hidden="true">
            {sign}
          </svg>
          {words}
        </li>
      ))}
    </ul>
  );
}

/** How wide a thing is on this screen, to the px, so that words in a picture are as large as those around it. */
function useWidth(room: { current: HTMLElement | null }): number {
  const [width, setWidth] = useState(328);
  useLayoutEffect(() => {
    const look = (): void => setWidth(Math.max(280, Math.floor(room.current?.clientWidth ?? 328)));
    look();
    const watcher = new ResizeObserver(look);
    if (room.current) watcher.observe(room.current);
    return () => watcher.disconnect();
  }, []);
  return width;
}
