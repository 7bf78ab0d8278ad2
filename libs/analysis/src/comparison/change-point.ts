/** When a machine's daily figure changed: the split into two means that explains most. */

import { mean } from 'simple-statistics';

export interface ChangePoint {
  /** First value of the second part. */
  readonly index: number;
  readonly meanBefore: number;
  readonly meanAfter: number;
  /** Largest F of any split: variance between the two parts over variance within. */
  readonly statistic: number;
  readonly threshold: number;
}

/** Share at either end where no change is looked for. Source: Andrews (1993). */
const trimRatio = 0.15;
/** Fewest values in a part. Source: engineering judgement, a working week. */
const leastPart = 5;
/**
 * F of the best split that is passed by chance once in a hundred series without a change, for a mean and 15 % trimmed.
 * Source: Andrews, Econometrica 1993, table 1, with the corrections of 2003, from memory (12.16); holds for long series. For series
 * of 20 to 100 normal values the tests count how often it is passed.
 */
export const supF1Pct = 12.16;

/**
 * Finds the one change of the mean that stands out, if there is one.
 *
 * For each split k, F = (n - 2) B / W, with B the sum of squares between the parts and W within; the largest F over
 * the splits must pass `supF1Pct`, a fixed threshold, so that the answer is the same at each call without drawing anything.
 * Days hang together (the same site, the same weather): what this finds is a day to look at, no proof.
 * Range: index from 5 up to n - 5. Missing: NaN values are left out and the index counts without them; null when there are
 * under ten values, or none stands out, or all are one and the same.
 * Source: own arithmetic; two-segment mean model.
 */
export function findChange(values: readonly number[]): ChangePoint | null {
  const known = values.filter((value) => Number.isFinite(value));
  const n = known.length;
  const least = Math.max(leastPart, Math.ceil(trimRatio * n));
  if (n < 2 * leastPart || n < 2 * least) return null;
  // About the mean, so that large values do not cost digits.
  const centre = mean(known);
  const offs = known.map((value) => value - centre);
  const total = offs.reduce((sum, off) => sum + off * off, 0);
  if (total === 0) return null;
  const best = bestSplit(offs, { least, total });
  if (best.statistic < supF1Pct) return null;
  return {
    index: best.index,
    meanBefore: mean(known.slice(0, best.index)),
    meanAfter: mean(known.slice(best.index)),
    statistic: best.statistic,
    threshold: supF1Pct,
  };
}

function bestSplit(offs: readonly number[], { least, total }: { least: number; total: number }) {
  const n = offs.length;
  let sum = 0;
  let best = { index: -1, statistic: 0 };
  for (let k = 1; k < n; k++) {
    sum += offs[k - 1] as number;
    if (k < least || n - k < least) continue;
    // The offsets sum to nought, so the second part's sum is the first one's with the other sign.
    const between = sum * sum * (1 / k + 1 / (n - k));
    const within = total - between;
    const statistic = within > 0 ? ((n - 2) * between) / within : Number.POSITIVE_INFINITY;
    if (statistic > best.statistic) best = { index: k, statistic };
  }
  return best;
}
