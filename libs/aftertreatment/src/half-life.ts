/** Half-life of a first-order loss. */

/**
 * Minutes in which a first-order loss takes half.
 *
 * Units: rate per second, result in minutes. Range: any rate; nought gives Infinity. Missing: NaN gives NaN.
 * Source: own arithmetic, ln 2 / rate.
 */
export function halfLifeMin(ratePerS: number): number {
  return Math.LN2 / ratePerS / 60;
}
