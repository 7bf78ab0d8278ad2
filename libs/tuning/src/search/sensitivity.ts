/** How much each threshold matters around the best set. */

import type { ThresholdName } from '../traced-thresholds.js';
import type { Point, ThresholdAxis } from './threshold-space.js';

export interface Sensitivity {
  readonly name: ThresholdName;
  readonly best: number;
  /** Cost at values across the bounds, all others as in the best set. */
  readonly course: readonly { readonly value: number; readonly cost: number }[];
  /** Largest cost of the course less the best, over the best. */
  readonly riseRatio: number;
  /** Between these values the cost stays within a hundredth of the best. */
  readonly flatFrom: number;
  readonly flatTo: number;
}

/** Places along each axis. Source: engineering judgement. */
export const sensitivitySteps = 11;
const flatRatio = 0.01;

/** Points to judge for one axis: across its bounds, through the best. */
export function sensitivityPoints(best: Point, axis: number): Point[] {
  return Array.from({ length: sensitivitySteps }, (_, i) =>
    best.map((x, k) => (k === axis ? i / (sensitivitySteps - 1) : x)),
  );
}

/** Sums up what was judged. Shapes: `course` in order of value. Missing: sets that are not allowed are left out of it. */
export function sensitivityOf(
  axis: ThresholdAxis,
  best: { readonly value: number; readonly cost: number },
  course: readonly { readonly value: number; readonly cost: number }[],
): Sensitivity {
  const known = [...course, best].filter(({ cost }) => Number.isFinite(cost)).sort((a, b) => a.value - b.value);
  const limit = best.cost + Math.abs(best.cost) * flatRatio;
  const at = known.findIndex(({ value }) => value === best.value);
  let from = at;
  let to = at;
  while (from > 0 && (known[from - 1] as { cost: number }).cost <= limit) from--;
  while (to < known.length - 1 && (known[to + 1] as { cost: number }).cost <= limit) to++;
  const worst = Math.max(...known.map(({ cost }) => cost));
  return {
    name: axis.name,
    best: best.value,
    course: known,
    riseRatio: best.cost === 0 ? (worst > 0 ? Number.POSITIVE_INFINITY : 0) : (worst - best.cost) / Math.abs(best.cost),
    flatFrom: (known[from] as { value: number }).value,
    flatTo: (known[to] as { value: number }).value,
  };
}
