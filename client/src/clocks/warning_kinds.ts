/**
 * The kinds of warnings, and how each rings where nobody said otherwise: the twin of `trade.warning_kinds`.
 *
 * - `lead_min`: how long before its instant a warning is due; for `step_late` how long after.
 * - What `waits` may be held back until quiet hours end. `unseen_min`: when it goes to the next person.
 * - What has a `walk` is told earlier by the way to the boat.
 */

export interface Manner {
  readonly lead_min: number | null;
  readonly waits: boolean;
  readonly unseen_min: number | null;
  readonly walk: boolean;
}

const DAY_MIN = 24 * 60;

const manner = (said: Partial<Manner> = {}): Manner => ({
  ...{ lead_min: null, waits: true, unseen_min: null, walk: false },
  ...said,
});

export const MANNERS = {
  pot_life_ending: manner({ lead_min: 5, waits: false }),
  pot_life_over: manner({ waits: false, unseen_min: 5 }),
  gel: manner({ waits: false }),
  recoat_open: manner(),
  recoat_closing: manner({ lead_min: 60, waits: false, unseen_min: 15, walk: true }),
  recoat_missed: manner({ unseen_min: 60 }),
  sandable: manner(),
  immerse_open: manner(),
  immerse_closing: manner({ lead_min: 7 * DAY_MIN, waits: false, unseen_min: DAY_MIN }),
  step_due: manner({ lead_min: 15, walk: true }),
  step_late: manner({ lead_min: 15, unseen_min: 60 }),
  launch_countdown: manner(),
  reading_stale: manner(),
  weather_edge: manner({ lead_min: 60, waits: false, unseen_min: 15, walk: true }),
} as const;

export type WarningKind = keyof typeof MANNERS;
export const ALARM_KINDS = Object.keys(MANNERS) as readonly WarningKind[];
export const WALK_MIN = 10;
