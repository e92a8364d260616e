/**
 * The steps of a job in their order, held against the table: the twin of the server's `trade.job_order`.
 *
 * Rules
 * - A coat that follows in the window of the one before meets it tacky when that cures by chemistry, green when it
 *   dries; one that does not meets it cured.
 * - A step without a material is passed over, and what it leaves is unknown; a tack coat is itself the mend.
 * - After a step that would be wrong the surface is taken as if it had gone well.
 */

import { canBe, goesOver, type Reason } from "./compatibility.ts";
import {
  BARE,
  DRYING,
  type Ground,
  type Material,
  type Mend,
  RESIN,
  RUBBERY,
  SILICONE,
  type SurfaceState,
  URETHANE,
  type Verdict,
} from "./compatibility_table.ts";
import { TradeError } from "./errors.ts";
import { isTheMend, TACK_COAT, type TackCoat } from "./tack_coat.ts";

export interface JobStep {
  readonly step_id: string;
  readonly kind: string;
  readonly material: Material | null;
  readonly in_window: boolean;
  readonly tack: boolean;
}

export interface ProposedStep {
  readonly kind: string;
  readonly title_key: string;
  readonly material: Material | null;
  readonly labour_h: number | null;
  readonly tack: TackCoat | null;
}

export interface Finding {
  readonly step_id: string;
  readonly over: Material;
  readonly under: Ground;
  readonly state: SurfaceState;
  readonly verdict: Verdict;
  readonly reasons: readonly Reason[];
  readonly proposals: readonly ProposedStep[];
  readonly or_else: readonly ProposedStep[];
}

export interface Surface {
  readonly under: Ground;
  readonly state: SurfaceState;
  readonly beneath: readonly Ground[];
  readonly fresh: boolean;
}

const LAYS = ["laminate", "fillet", "fair", "coat", "bed"];
const TAKEN_OFF: readonly Ground[] = [...SILICONE, ...RUBBERY, ...DRYING, ...URETHANE];
const STEP_OF_MEND: Readonly<Record<Mend, string | null>> = {
  wait: "wait",
  clean: "clean",
  sand: "sand",
  tack_coat: "coat",
  prime: "coat",
  strip: "grind",
  test_patch: "inspect",
  other_product: null,
};
const STEPS_MAX_N = 500;

/** Find the steps of a job that would go over what they must not go over. */
export function checkOrder(
  steps: readonly JobStep[],
  under: Ground | null = null,
  state: SurfaceState | null = null,
): Finding[] {
  if (steps.length > STEPS_MAX_N) throw new TradeError("steps", `at most ${STEPS_MAX_N} steps`);
  let surface = firstOf(under, state);
  const found: Finding[] = [];
  for (const step of steps) {
    if (!LAYS.includes(step.kind)) {
      if (surface !== null) surface = afterStep(surface, step.kind, step.in_window);
      continue;
    }
    if (surface !== null) {
      surface = met(surface, step.in_window);
      if (step.material !== null) found.push(...finding(step, step.material, surface));
    }
    surface = laid(step, surface);
  }
  return found;
}

/** Give the surface as a step that lays nothing leaves it. */
export function afterStep(surface: Surface, kind: string, in_window = false): Surface {
  if (kind === "sand") return sanded(cured(surface));
  if (kind === "grind") {
    return TAKEN_OFF.includes(surface.under) ? stripped(surface) : sanded(cured(surface));
  }
  if (kind === "clean") return cleaned(in_window ? surface : cured(surface));
  if (kind === "wait") {
    if (DRYING.includes(surface.under) && surface.state === "tacky") {
      return { ...surface, state: "green" };
    }
    return cured(surface);
  }
  if (kind === "inspect" && surface.under === "old_unknown") {
    return { ...surface, under: "old_tested" };
  }
  return surface;
}

/** Give the surface after its window has closed. */
export function cured(surface: Surface): Surface {
  if (!surface.fresh && surface.state !== "tacky" && surface.state !== "green") return surface;
  const state = surface.under === "polyester_waxed" ? "waxed" : "glossy";
  return { ...surface, state, fresh: false };
}

/** Give mends as steps that can be put into a job; a tack coat is of the given material. */
export function stepsOf(mends: readonly Mend[], material: Material | null = null): ProposedStep[] {
  return mends.flatMap((mend) => {
    const kind = STEP_OF_MEND[mend];
    const of = mend === "prime" ? "epoxy_paint" : mend === "tack_coat" ? material : null;
    if (kind === null) return [];
    const tack = mend === "tack_coat" ? TACK_COAT : null;
    return [{ kind, title_key: `mend.${mend}`, material: of, labour_h: null, tack }];
  });
}

function sanded(surface: Surface): Surface {
  if (surface.state === "glossy" && RESIN.includes(surface.under)) {
    return { ...surface, state: "keyed_unwashed" };
  }
  const dulled = ["glossy", "washed", "waxed"].includes(surface.state);
  return dulled ? { ...surface, state: "keyed" } : surface;
}

function cleaned(surface: Surface): Surface {
  if (surface.state === "keyed_unwashed" && !RESIN.includes(surface.under)) {
    return { ...surface, state: "keyed" };
  }
  const washed = ["glossy", "keyed_unwashed", "contaminated"].includes(surface.state);
  return washed ? { ...surface, state: "washed" } : surface;
}

function stripped(surface: Surface): Surface {
  const under = surface.beneath.at(-1);
  if (under === undefined) {
    return { under: "old_unknown", state: "keyed", beneath: [], fresh: false };
  }
  const state = BARE.includes(under) ? "bare" : "keyed";
  return { under, state, beneath: surface.beneath.slice(0, -1), fresh: false };
}

function firstOf(under: Ground | null, state: SurfaceState | null): Surface | null {
  if (under === null && state === null) return null;
  if (under === null || state === null) {
    const missing = under === null ? "under" : "state";
    throw new TradeError(missing, "what lies below and its state are given together");
  }
  if (!canBe(under, state)) throw new TradeError("state", `${under} cannot be ${state}`);
  return { under, state, beneath: [], fresh: false };
}

function met(surface: Surface, inWindow: boolean): Surface {
  if (!surface.fresh) return surface;
  if (!inWindow) return cured(surface);
  return { ...surface, state: DRYING.includes(surface.under) ? "green" : "tacky" };
}

function laid(step: JobStep, surface: Surface | null): Surface | null {
  if (step.material === null) return null;
  const beneath = surface === null ? [] : [...surface.beneath, surface.under];
  return { under: step.material, state: "tacky", beneath, fresh: true };
}

function finding(step: JobStep, over: Material, surface: Surface): Finding[] {
  const answer = goesOver(over, surface.under, surface.state);
  if (answer.verdict === "yes") return [];
  if (step.tack && isTheMend(over, surface.under, answer)) return [];
  const below = surface.under === "epoxy_paint" ? "epoxy_paint" : "epoxy_resin";
  return [
    {
      step_id: step.step_id,
      over,
      under: surface.under,
      state: surface.state,
      verdict: answer.verdict,
      reasons: answer.reasons,
      proposals: stepsOf(answer.mends, below),
      or_else: stepsOf(answer.or_else, below),
    },
  ];
}
