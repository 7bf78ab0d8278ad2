/** Exact pieces of the solutions of linear rate equations, safe for any rate and step. */

/**
 * Integral of exp(-rate s) from 0 to the elapsed time: (1 - exp(-rate t)) / rate, and t where the rate is nought.
 *
 * Units: per second and seconds, result in seconds. Range: rate and time not negative; infinite results do not occur for
 * finite times. Missing: NaN gives NaN. Source: own arithmetic; expm1 keeps every digit for small rates.
 */
export function decayIntegralS(ratePerS: number, elapsedS: number): number {
  const x = ratePerS * elapsedS;
  return x < 1e-300 ? elapsedS : -Math.expm1(-x) / ratePerS;
}

/**
 * What a first-order loss hands on to the next one: integral of exp(-a s) exp(-b (t - s)) ds, symmetric in a and b.
 *
 * Units: rates per second, result in seconds. Range: rates and time not negative; equal rates give t exp(-a t).
 * Source: own arithmetic (the two-member chain of Bateman 1910, written so that no difference of equal numbers occurs).
 */
export function chainIntegralS(aPerS: number, bPerS: number, elapsedS: number): number {
  const slow = Math.min(aPerS, bPerS);
  return Math.exp(-slow * elapsedS) * decayIntegralS(Math.abs(aPerS - bPerS), elapsedS);
}

/** A change that takes longer counts as never, s. Source: engineering judgement; thirty thousand years. */
const neverS = 1e12;

/**
 * Time in which m falls or rises from where it is to a target, for dm/dt = slope now and a first-order loss.
 *
 * `change` is target less present, `slopePerS` is dm/dt at the start, `ratePerS` the first-order rate.
 * Missing: null when the target is never reached, or not in 1e12 s. Source: own arithmetic, t = -ln(1 - rate change / slope) / rate.
 */
export function timeToChangeS(change: number, slopePerS: number, ratePerS: number): number | null {
  if (change === 0) return 0;
  const straightS = change / slopePerS;
  if (!(straightS > 0) || straightS > neverS) return null;
  const share = ratePerS * straightS;
  if (share < 1e-300) return straightS;
  if (!(share < 1)) return null;
  const elapsedS = -Math.log1p(-share) / ratePerS;
  return elapsedS > neverS ? null : elapsedS;
}
