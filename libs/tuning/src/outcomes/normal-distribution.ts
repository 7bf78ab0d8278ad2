/** The normal distribution function and its inverse. */

/**
 * Probability that a standard normal variate lies below z.
 *
 * Range: absolute error under 1.5e-7. Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26.
 */
export function normalProbability(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const tail = (poly * Math.exp(-x * x)) / 2;
  return z < 0 ? tail : 1 - tail;
}

/**
 * The z below which a standard normal variate lies with a probability.
 *
 * Range: relative error about 1e-7; minus and plus infinity at 0 and 1.
 * Source: M. J. Wichura, Algorithm AS 241 (PPND7), Applied Statistics 37 (1988), 477-484.
 */
export function normalQuantile(probability: number): number {
  if (probability <= 0) return Number.NEGATIVE_INFINITY;
  if (probability >= 1) return Number.POSITIVE_INFINITY;
  const q = probability - 0.5;
  if (Math.abs(q) <= 0.425) {
    const r = 0.180625 - q * q;
    return (
      (q * (((59.10937472 * r + 159.29113202) * r + 50.434271938) * r + 3.3871327179)) /
      (((67.1875636 * r + 78.757757664) * r + 17.895169469) * r + 1)
    );
  }
  const r = Math.sqrt(-Math.log(q < 0 ? probability : 1 - probability));
  return Math.sign(q) * (r <= 5 ? middleTail(r - 1.6) : farTail(r - 5));
}

function middleTail(r: number): number {
  return (
    (((0.17023821103 * r + 1.3067284816) * r + 2.756815399) * r + 1.4234372777) /
    ((0.12021132975 * r + 0.7370016425) * r + 1)
  );
}

function farTail(r: number): number {
  return (
    (((0.017337203997 * r + 0.42868294337) * r + 3.081226386) * r + 6.657905115) /
    ((0.012258202635 * r + 0.24197894225) * r + 1)
  );
}
