/** Where the lines of the burn-up run in a box of px: days to the right, hours upward. */
import type { BurnUp } from "./types.ts";

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

export interface Chart {
  done: string;
  mid: string;
  low: string;
  high: string;
  fan: string;
  scope_y: number;
  /** Null where the launch lies off the days that are drawn. */
  launch_x: number | null;
  grid: { y: number; value: number }[];
  ends: { x: number; on: string; anchor: "start" | "end" }[];
}

const DAY_MS = 86_400_000;
const GRID = 4;

const numberOf = (day: string): number => Math.round(Date.parse(`${day}T00:00:00Z`) / DAY_MS);

/** What a burn-up comes to: how much is done at the launch where the forecast reaches it, else when all is done. */
export type Outcome =
  | { kind: "launch"; low: number; mid: number; high: number }
  | { kind: "over"; mid: string; high: string }
  | { kind: "ahead"; on: string; low: number; mid: number; high: number }
  | null;

export function outcomeOf({ fan, scope_h }: BurnUp, launch_on: string): Outcome {
  const by_launch = fan.find(({ on }) => on === launch_on);
  const end = fan.at(-1);
  if (end === undefined) return null;
  const figures = ({ p10_h, p50_h, p90_h }: typeof end) => ({
    low: p10_h,
    mid: p50_h,
    high: p90_h,
  });
  if (by_launch) return { kind: "launch", ...figures(by_launch) };
  const reached = (name: "p10_h" | "p50_h") => fan.find((one) => one[name] >= scope_h)?.on;
  const [mid, high] = [reached("p50_h"), reached("p10_h")];
  if (mid && high) return { kind: "over", mid, high };
  return { kind: "ahead", on: end.on, ...figures(end) };
}

/** A round step so that at most `GRID` of them reach a value. */
export function roundStep(most: number): number {
  const rough = Math.max(most, 1) / GRID;
  const power = 10 ** Math.floor(Math.log10(rough));
  const digit = [1, 2, 5, 10].find((one) => one * power >= rough) ?? 10;
  return digit * power;
}

export function chartOf({ done, fan, scope_h }: BurnUp, launch_on: string, box: Box): Chart {
  const days = [...done, ...fan].map(({ on }) => on);
  if (launch_on && days.length > 0) days.push(launch_on);
  days.sort();
  const [first, last] = [days[0] ?? launch_on, days.at(-1) ?? launch_on];
  const [from, to] = [numberOf(first), Math.max(numberOf(last), numberOf(first) + 1)];
  const most = Math.max(
    scope_h,
    ...done.map((one) => one.labour_h),
    ...fan.map((one) => one.p90_h),
    ...fan.map((one) => one.p10_h),
  );
  const step = roundStep(most);
  const top = Math.ceil(most / step) * step || step;
  const x = (on: string): number => box.x + ((numberOf(on) - from) / (to - from)) * box.width;
  const y = (value: number): number => box.y + box.height - (value / top) * box.height;
  const point = (on: string, value: number): string => `${x(on).toFixed(1)},${y(value).toFixed(1)}`;
  const start = done.at(-1);
  // The forecast sets out from where the work stands now.
  const root = start ? [point(start.on, start.labour_h)] : [];
  const along = (name: "p10_h" | "p50_h" | "p90_h"): string[] => [
    ...root,
    ...fan.map((one) => point(one.on, one[name])),
  ];
  return {
    done: done.map((one) => point(one.on, one.labour_h)).join(" "),
    mid: along("p50_h").join(" "),
    low: along("p10_h").join(" "),
    high: along("p90_h").join(" "),
    fan: [...along("p90_h"), ...along("p10_h").reverse()].join(" "),
    scope_y: y(scope_h),
    launch_x: Number.isNaN(numberOf(launch_on)) ? null : x(launch_on),
    grid: Array.from({ length: Math.round(top / step) + 1 }, (_, n) => ({
      ...{ y: y(n * step), value: n * step },
    })),
    ends: [
      { x: box.x, on: first, anchor: "start" },
      { x: box.x + box.width, on: last, anchor: "end" },
    ],
  };
}
