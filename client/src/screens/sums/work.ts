/** A sum worked out on this phone: the answer, or what is wrong at which field. */
import { answer } from "../../clocks/by_name.ts";
import { tell } from "../../handbook/index.ts";
import type { Json, RecordRow } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { type Drafts, type Look, readDrafts, type Wrong } from "./draft.ts";
import type { Described } from "./registry.ts";

type Values = { [name: string]: Json };

export interface Worked {
  takes: Values;
  gives: Values | null;
  wrong: Wrong;
}

/**
 * Work out a sum from what is typed. What was left empty is wrong only where something must stand. `kept` holds what
 * nobody typed over since it was kept: it counts as it was, to its last digit.
 */
export function workedOut(sum: Described, drafts: Drafts, look?: Look, kept: Values = {}): Worked {
  const { takes: read, wrong, good } = readDrafts(sum.takes, drafts, look);
  const takes = { ...read, ...kept };
  if (!good) return { takes, gives: null, wrong };
  const { output, error } = answered(sum.name, takes);
  if (output) return { takes, gives: output, wrong };
  const field = error?.field ?? "";
  return { takes, gives: null, wrong: { [field]: wordsFor(takes, field) } };
}

/** What a kept sum was given, but for the fields that were typed over. */
export function keptOf(row: RecordRow | undefined, touched: ReadonlySet<string>): Values {
  const given = Object.entries((row?.body.takes ?? {}) as Values);
  return Object.fromEntries(given.filter(([name]) => !touched.has(name)));
}

/** The phone's own arithmetic; a sum that it has not yet learnt has no answer. */
function answered(fn: string, input: Values): { output?: Values; error?: { field: string } } {
  try {
    return answer({ fn, input });
  } catch (error) {
    console.warn(error);
    return {};
  }
}

/** A field that the sum needs after all is missing; another does not fit the rest. */
const wordsFor = (takes: Values, field: string): string =>
  takes[field] === null ? say("problem.missing") : tell("sums.does_not_fit");
