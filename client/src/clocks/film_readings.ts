/**
 * Whether measured dry film readings meet a specification: the twin of the server's
 * `trade.film_readings`, which gives the rules.
 *
 * Source: ISO 19840, SSPC-PA 2 and IMO MSC.215(82), all three from memory.
 */

export type FilmRule = "iso_19840" | "sspc_pa_2" | "imo_90_10";

const EDGE = 1e-9;

/** The numbers of a rule: the least share, the share of thin readings, and of the most. */
const RULES = {
  iso_19840: { least_share: 0.8, thin_share_most: 0.2, most_share: 1, mean_counts: true },
  sspc_pa_2: { least_share: 0.8, thin_share_most: 1, most_share: 1.2, mean_counts: true },
  imo_90_10: { least_share: 0.9, thin_share_most: 0.1, most_share: 1, mean_counts: false },
} as const;

export interface FilmJudged {
  readonly mean_um: number;
  readonly least_um: number;
  readonly greatest_um: number;
  readonly thin_count: number;
  readonly reasons: string[];
}

/** Judge readings by a rule; no reasons means that they are accepted. */
export function judge(
  readings_um: readonly number[],
  specified_um: number,
  rule: FilmRule,
  most_um: number | null,
): FilmJudged {
  const { least_share, thin_share_most, most_share, mean_counts } = RULES[rule];
  const count = readings_um.length;
  const mean_um = readings_um.reduce((sum, one) => sum + one, 0) / count;
  const least_um = readings_um.reduce((a, b) => Math.min(a, b));
  const greatest_um = readings_um.reduce((a, b) => Math.max(a, b));
  const thin_count = readings_um.filter((one) => one < specified_um * (1 - EDGE)).length;
  const fails: [string, boolean][] = [
    ["mean_too_thin", mean_counts && mean_um < specified_um * (1 - EDGE)],
    ["reading_too_thin", least_um < least_share * specified_um * (1 - EDGE)],
    ["too_many_thin", thin_count > thin_share_most * count * (1 + EDGE)],
  ];
  if (most_um !== null) {
    fails.push(["mean_too_thick", mean_um > most_um * (1 + EDGE)]);
    fails.push(["reading_too_thick", greatest_um > most_share * most_um * (1 + EDGE)]);
  }
  const reasons = fails.filter(([, failed]) => failed).map(([reason]) => reason);
  return { mean_um, least_um, greatest_um, thin_count, reasons };
}
