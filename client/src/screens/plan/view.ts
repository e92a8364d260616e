/** What a timeline shows: its days, its rows, and how wide an hour is. */
import { memberName, yardZone, zoneLabel } from "../../parts/know.ts";
import {
  type Axis,
  type Day,
  dayAfter,
  daysBetween,
  type Hours,
  makeAxis,
  type Scale,
} from "../../plan/axis.ts";
import { makeRows, type Row } from "../../plan/rows.ts";
import { type PlanStep, type Proposal, piecesOf } from "../../plan/types.ts";
import { view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { awayOn, launchAt, memberHours, yardHours, zoneIdOf } from "./facts.ts";
import { dayIn, minute, timeIn } from "./instants.ts";

export type Grouping = "person" | "zone";
export type Zoom = "day" | "week";

export const SCALES: Record<Zoom, Scale> = {
  day: { hour: 54, night: 30, free: 72 },
  week: { hour: 9, night: 9, free: 64 },
};

const DAY_MS = 86_400_000;
/** The past that is drawn, and how far beyond the work a launch is. */
const PAST_MS = 7 * DAY_MS;
const LAUNCH_MS = 60 * DAY_MS;

/** The yard's hours, made wider where somebody works earlier or later. */
function wideHours(steps: readonly PlanStep[]): Hours {
  const hours = yardHours();
  let { day_starts, day_ends } = hours;
  for (const piece of steps.flatMap(piecesOf)) {
    // A wait goes through the night, and is nobody's work.
    if (piece.member_ids.length === 0) continue;
    const [start, end] = [Date.parse(piece.start_at), Date.parse(piece.end_at)];
    if (dayIn(start) !== dayIn(end)) continue;
    const [from, to] = [timeIn(start), timeIn(end)];
    if (from < day_starts) day_starts = from;
    if (to > day_ends) day_ends = to;
  }
  return { ...hours, day_starts, day_ends };
}

/** All days of a proposal, the launch's with them. */
export function planDays(proposal: Proposal): string[] {
  const pieces = proposal.steps.flatMap(piecesOf);
  if (pieces.length === 0) return [];
  const zone = yardZone();
  const first = Math.min(...pieces.map((one) => Date.parse(one.start_at)));
  const last = Math.max(...pieces.map((one) => Date.parse(one.end_at)));
  const launch = launchAt();
  const now = minute.peek();
  const begin = Math.max(Math.min(first, now), now - PAST_MS);
  const end = launch > last && launch < last + LAUNCH_MS ? launch : last;
  const days = daysBetween(begin, Math.max(begin, end), zone);
  return [...days, dayAfter(days.at(-1) as string)];
}

export function axisOf(proposal: Proposal, days: readonly string[], scale: Scale): Axis {
  const worked = proposal.steps
    .flatMap(piecesOf)
    .filter((piece) => piece.member_ids.length > 0)
    .map((piece) => dayIn(Date.parse(piece.start_at)));
  return makeAxis(days, wideHours(proposal.steps), scale, new Set(worked));
}

const NOBODY = "";

export function rowsOf(proposal: Proposal, axis: Axis, grouping: Grouping): Row[] {
  const rowsFor =
    grouping === "person"
      ? (_: PlanStep, ids: readonly string[]) => (ids.length ? ids : [NOBODY])
      : (step: PlanStep) => [zoneIdOf(step.step_id)];
  const order = view.value.items(grouping === "person" ? "member" : "zone").map(({ id }) => id);
  return makeRows(proposal.steps, axis, rowsFor, order);
}

export function rowName(id: string, grouping: Grouping): string {
  if (grouping === "person") return id === NOBODY ? say("plan.nobody") : memberName(id);
  return id === NOBODY ? say("plan.no_zone") : zoneLabel(id);
}

/** When a row is closed: a person's nights, free days and days away; the yard's in a zone. */
export function closedOf(id: string, grouping: Grouping, days: readonly Day[]): [number, number][] {
  const person = grouping === "person" && id !== NOBODY;
  const hours = person ? memberHours(id) : yardHours();
  const key = JSON.stringify(hours);
  return days.flatMap((day) =>
    awayOn(person ? id : NOBODY, day.on) ? [[day.from, day.to]] : closedOn(day.on, hours, key),
  );
}

const closedBy = new Map<string, [number, number][]>();

/** Rows of people with the same hours are many, and days too. */
function closedOn(on: string, hours: Hours, key: string): [number, number][] {
  const known = closedBy.get(key + on);
  if (known) return known;
  const { stretches } = makeAxis([on], hours, { hour: 1, night: 1, free: 1 });
  const closed = stretches
    .filter(({ open }) => !open)
    .map(({ from, to }): [number, number] => [from, to]);
  closedBy.set(key + on, closed);
  return closed;
}
