/** The temperature histogram, ready to draw. */

import type { ResidencyShare } from '../course/residency-shares.js';

/** Width of a bin of the contract. Source: the analysis, `histogramBinC`. */
const binC = 10;

export interface HistogramBar {
  readonly lowC: number;
  readonly highC: number;
  readonly lengthS: number;
  readonly kind: Exclude<ResidencyShare['kind'], 'unmeasured'>;
}

export interface HistogramLimits {
  readonly dosingReleaseTempC: number;
  readonly window: { readonly lowC: number; readonly highC: number };
}

/**
 * Bars from the first bin with time in it to the last, and at least from dosing release to the top of the window.
 *
 * Shapes: bins of 10 degC from 0. Missing: empty when there is no time in any bin.
 */
export function histogramBars(histogramS: readonly number[], limits: HistogramLimits): HistogramBar[] {
  const used = histogramS.flatMap((lengthS, bin) => (lengthS > 0 ? [bin] : []));
  if (used.length === 0) return [];
  const first = Math.min(used[0] ?? 0, Math.floor(limits.dosingReleaseTempC / binC));
  const last = Math.max(used[used.length - 1] ?? 0, Math.ceil(limits.window.highC / binC));
  return histogramS.slice(first, last + 1).map((lengthS, index) => {
    const lowC = (first + index) * binC;
    return { lowC, highC: lowC + binC, lengthS, kind: kindAt(lowC, limits) };
  });
}

function kindAt(lowC: number, { dosingReleaseTempC, window }: HistogramLimits): HistogramBar['kind'] {
  if (lowC < dosingReleaseTempC) return 'cold';
  if (lowC < window.lowC) return 'below';
  return lowC < window.highC ? 'in' : 'above';
}
