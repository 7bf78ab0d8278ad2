/** How well the soot-risk score tells what is coming. */

/** What may come in the next hours. */
export const outcomes = ['regeneration', 'blockage', 'derate', 'any'] as const;
export type Outcome = (typeof outcomes)[number];

export interface ScoredMoment {
  /** 0-100. */
  readonly score: number;
  /** Whether the machine sends a soot signal of its own. */
  readonly hasSootSignal: boolean;
  /** Engine hours until it came, 0 when it was there already; null when it did not within `livedH`. */
  readonly hoursUntil: Readonly<Record<Outcome, number | null>>;
  /** Engine hours that were lived on. */
  readonly livedH: number;
}

/** Engine hours that a score is held against: a shift, a day on two shifts, and a week on one. */
export const horizonsH = [10, 24, 50] as const;
/** The longest, which the tables of ten bins are made for. */
export const longestHorizonH = 50;

interface ScoreBin {
  readonly fromScore: number;
  readonly moments: number;
  readonly came: number;
  readonly meanScore: number | null;
}

export interface Calibration {
  readonly moments: number;
  readonly came: number;
  /** Chance that a moment before trouble scores higher than one without; ties count half. null without both kinds. */
  readonly auc: number | null;
  readonly bins: readonly ScoreBin[];
}

const binCount = 10;

/** Whether it came within so many hours; null where the life was too short to tell. */
function cameWithin({ hoursUntil, livedH }: ScoredMoment, outcome: Outcome, withinH: number): boolean | null {
  const hours = hoursUntil[outcome];
  if (hours !== null && hours <= withinH) return true;
  return livedH >= withinH ? false : null;
}

/** Reliability table and AUC for one outcome. */
export function calibrate(
  moments: readonly ScoredMoment[],
  outcome: Outcome,
  withinH: number = longestHorizonH,
): Calibration {
  const judged = moments.map(({ score, ...moment }) => ({
    score,
    came: cameWithin({ score, ...moment }, outcome, withinH),
  }));
  const known = judged.filter(({ came }) => came !== null);
  const bins = Array.from({ length: binCount }, (_, k): ScoreBin => {
    const inside = known.filter(({ score }) => Math.min(binCount - 1, Math.floor(score / 10)) === k);
    const sum = inside.reduce((total, { score }) => total + score, 0);
    return {
      fromScore: 10 * k,
      moments: inside.length,
      came: inside.filter((moment) => moment.came).length,
      meanScore: inside.length === 0 ? null : sum / inside.length,
    };
  });
  const came = known.filter((moment) => moment.came === true).map(({ score }) => score);
  const stayed = known.filter((moment) => moment.came === false).map(({ score }) => score);
  return { moments: known.length, came: came.length, auc: areaUnderCurve(came, stayed), bins };
}

/** Mann-Whitney: share of the pairs in which the first list has the higher number, ties counting half. */
export function areaUnderCurve(higher: readonly number[], lower: readonly number[]): number | null {
  if (higher.length === 0 || lower.length === 0) return null;
  const all = [...higher.map((score) => ({ score, isHigher: 1 })), ...lower.map((score) => ({ score, isHigher: 0 }))];
  all.sort((a, b) => a.score - b.score);
  let rankSum = 0;
  for (let i = 0; i < all.length; ) {
    let j = i;
    while (j < all.length && all[j]?.score === all[i]?.score) j++;
    const rank = (i + 1 + j) / 2;
    for (let k = i; k < j; k++) rankSum += rank * (all[k]?.isHigher ?? 0);
    i = j;
  }
  return (rankSum - (higher.length * (higher.length + 1)) / 2) / (higher.length * lower.length);
}
