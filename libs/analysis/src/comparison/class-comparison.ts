/** A machine's figure beside those of its class at the same work. */

import { median, medianAbsoluteDeviation } from 'simple-statistics';

/** One machine's figure. Missing: NaN is left out. */
export interface MachineFigure {
  readonly machineId: string;
  /** Class and work, such as `groupOf` makes it: only figures of one group are compared. */
  readonly group: string;
  readonly value: number;
}

export interface ClassStanding {
  readonly machineId: string;
  readonly group: string;
  readonly value: number;
  /** Machines in the group, this one too. */
  readonly groupSize: number;
  readonly groupMedian: number;
  /** Half of the group lies between these. */
  readonly lowerQuartile: number;
  readonly upperQuartile: number;
  /** Share of the group below, with half of those that are equal, in percent. */
  readonly percentile: number;
  /** Distance from the median in robust standard deviations; null where half of the group has one and the same value. */
  readonly robustZ: number | null;
  readonly standing: 'usual' | 'high' | 'low' | 'too-few';
}

/** Brings a median absolute deviation to a standard deviation. Source: 0.75 quantile of the normal distribution. */
const normalQuartile = 0.6745;
/** From here a value stands out. Source: Iglewicz and Hoaglin (1993), as in NIST e-Handbook 1.3.5.17. */
export const outlierZ = 3.5;
/** Fewest machines that make a class. Source: engineering judgement. */
const leastMachines = 5;

/** Loads, in %, between light, medium and heavy work. Source: engineering judgement; idle is under 25 % by the profile. */
const workEdgesPct = [35, 55] as const;

/** The group of a machine: its class, and its work by the mean load while running. */
export function groupOf(machineClass: string, meanLoadPct: number): string {
  const [light, heavy] = workEdgesPct;
  const work = meanLoadPct < light ? 'light' : meanLoadPct < heavy ? 'medium' : 'heavy';
  return `${machineClass}, ${Number.isNaN(meanLoadPct) ? 'unknown' : work} work`;
}

/**
 * Compares each figure with its group.
 *
 * Shapes: one standing a figure that is a number, in the order given. Range: percentile 0..100. A group under five machines gives
 * `too-few` and still its percentile. Missing: NaN figures are left out, of the groups too.
 * Source: modified z-score of Iglewicz and Hoaglin; mid-rank percentile, own arithmetic.
 */
export function compareWithClass(figures: readonly MachineFigure[]): ClassStanding[] {
  const groups = new Map<string, number[]>();
  const known = figures.filter((figure) => Number.isFinite(figure.value));
  for (const { group, value } of known) groups.set(group, [...(groups.get(group) ?? []), value]);
  return known.map(({ machineId, group, value }) => {
    const values = groups.get(group) as number[];
    const robustZ = robustZOf(value, values);
    return {
      machineId,
      group,
      value,
      groupSize: values.length,
      groupMedian: median(values),
      lowerQuartile: valueAtPercentile(values, 25),
      upperQuartile: valueAtPercentile(values, 75),
      percentile: percentileOf(value, values),
      robustZ,
      standing: standingOf(robustZ, values.length),
    };
  });
}

/**
 * Modified z-score: 0.6745 (x - median) / MAD.
 *
 * Missing: null without values, or when the median absolute deviation is nought.
 */
export function robustZOf(value: number, values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const spread = medianAbsoluteDeviation([...values]);
  return spread > 0 ? (normalQuartile * (value - median([...values]))) / spread : null;
}

/** Share of the values below, with half of the equal ones, in percent. Missing: NaN without values. */
export function percentileOf(value: number, values: readonly number[]): number {
  let below = 0;
  let equal = 0;
  for (const other of values) {
    if (other < value) below++;
    else if (other === value) equal++;
  }
  return (100 * (below + equal / 2)) / values.length;
}

/**
 * The value at a percentile: with N values in order, the one at place p (N + 1), between two by a straight line.
 *
 * Range: the smallest or the largest value where the place lies outside. Missing: NaN without values.
 * Source: NIST e-Handbook 7.2.6.2.
 */
export function valueAtPercentile(values: readonly number[], percentile: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = (percentile / 100) * (sorted.length + 1);
  const below = Math.min(sorted.length, Math.max(1, Math.floor(place)));
  const lower = sorted[below - 1] ?? Number.NaN;
  const upper = sorted[below] ?? lower;
  return lower + Math.min(1, Math.max(0, place - below)) * (upper - lower);
}

function standingOf(robustZ: number | null, size: number): ClassStanding['standing'] {
  if (size < leastMachines) return 'too-few';
  if (robustZ === null || Math.abs(robustZ) <= outlierZ) return 'usual';
  return robustZ > 0 ? 'high' : 'low';
}
