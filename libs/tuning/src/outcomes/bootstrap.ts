/** Bootstrap intervals: how far a figure would vary with other machines drawn from the same fleet. */

import { normalProbability, normalQuantile } from './normal-distribution.js';
import { drawIndex, type RandomSource } from './random.js';

export interface BootstrapQuestion {
  /** Units drawn with replacement, such as machines. */
  readonly units: number;
  /** The figure of a sample of units, named by their indices; NaN where it has none. */
  readonly figure: (units: Int32Array) => number;
  readonly random: RandomSource;
  /** Default 2000. Source: Efron and Tibshirani, An Introduction to the Bootstrap (1993), 14.3. */
  readonly rounds?: number;
  /** Default 0.9. */
  readonly confidenceRatio?: number;
}

export interface BootstrapInterval {
  readonly value: number;
  /** Bias-corrected and accelerated. */
  readonly low: number;
  readonly high: number;
  readonly percentileLow: number;
  readonly percentileHigh: number;
  /** Correction for bias and acceleration that were found. */
  readonly bias: number;
  readonly acceleration: number;
}

/**
 * Percentile and BCa interval of a figure over units; null with fewer than two units or a figure that has no value.
 *
 * Range: the same seed gives the same interval. Rounds in which the figure has no value do not count.
 * Source: Efron and Tibshirani (1993), 13.3 and 14.3; acceleration by the jackknife (14.15). Checked against their table 14.2
 * in `tests/conformance/bootstrap-published-example.test.ts`.
 */
export function bootstrapInterval(question: BootstrapQuestion): BootstrapInterval | null {
  const { units, figure, random, rounds = 2000, confidenceRatio = 0.9 } = question;
  if (units < 2) return null;
  const value = figure(Int32Array.from({ length: units }, (_, i) => i));
  if (!Number.isFinite(value)) return null;
  const drawn: number[] = [];
  const sample = new Int32Array(units);
  for (let round = 0; round < rounds; round++) {
    for (let i = 0; i < units; i++) sample[i] = drawIndex(random, units);
    const one = figure(sample);
    if (Number.isFinite(one)) drawn.push(one);
  }
  if (drawn.length === 0) return null;
  drawn.sort((a, b) => a - b);
  const tail = (1 - confidenceRatio) / 2;
  const bias = biasOf(drawn, value);
  const acceleration = accelerationOf(units, figure);
  const corrected = (probability: number) => {
    const z = bias + normalQuantile(probability);
    return normalProbability(bias + z / (1 - acceleration * z));
  };
  return {
    value,
    low: quantileOf(drawn, corrected(tail)),
    high: quantileOf(drawn, corrected(1 - tail)),
    percentileLow: quantileOf(drawn, tail),
    percentileHigh: quantileOf(drawn, 1 - tail),
    bias,
    acceleration,
  };
}

/** z of the share of the drawn figures under the value; a tie counts half. Bounded where all lie on one side. */
function biasOf(drawn: readonly number[], value: number): number {
  let below = 0;
  for (const one of drawn) below += one < value ? 1 : one === value ? 0.5 : 0;
  const edge = 0.5 / drawn.length;
  return normalQuantile(Math.min(1 - edge, Math.max(edge, below / drawn.length)));
}

function accelerationOf(units: number, figure: (units: Int32Array) => number): number {
  const left: number[] = [];
  const others = new Int32Array(units - 1);
  for (let out = 0; out < units; out++) {
    for (let i = 0; i < units - 1; i++) others[i] = i < out ? i : i + 1;
    const one = figure(others);
    if (Number.isFinite(one)) left.push(one);
  }
  const mean = left.reduce((sum, one) => sum + one, 0) / left.length;
  let squares = 0;
  let cubes = 0;
  for (const one of left) {
    const d = mean - one;
    squares += d * d;
    cubes += d * d * d;
  }
  return squares > 0 ? cubes / (6 * squares ** 1.5) : 0;
}

/** Quantile by linear interpolation between order statistics. Shapes: rising, at least one. */
export function quantileOf(sorted: readonly number[], probability: number): number {
  const at = Math.min(sorted.length - 1, Math.max(0, probability * (sorted.length - 1)));
  const below = Math.floor(at);
  const low = sorted[below] as number;
  const high = sorted[Math.min(sorted.length - 1, below + 1)] as number;
  return low + (high - low) * (at - below);
}
