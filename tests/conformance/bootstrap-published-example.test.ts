/**
 * Bootstrap intervals against Efron and Tibshirani, An Introduction to the Bootstrap (1993), table 14.2: spatial test data A
 * of 26 children, variance with divisor n, 90 % intervals from 2000 rounds; and against SciPy.
 */

import { execFileSync } from 'node:child_process';
import { createRandom } from '@warmbrick/simulator';
import { bootstrapInterval } from '@warmbrick/tuning';
import { describe, expect, it } from 'vitest';

const scores = [48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24, 26, 30, 41];

function variance(units: Int32Array): number {
  let sum = 0;
  for (const unit of units) sum += scores[unit] as number;
  const mean = sum / units.length;
  let squares = 0;
  for (const unit of units) squares += ((scores[unit] as number) - mean) ** 2;
  return squares / units.length;
}

const interval = (seed: number, rounds: number) =>
  bootstrapInterval({ units: scores.length, figure: variance, random: createRandom(seed), rounds });

describe('Efron and Tibshirani (1993), table 14.2', () => {
  const found = interval(1, 20_000);
  it('estimates 171.5', () => {
    expect(found?.value).toBeCloseTo(171.5, 1);
  });
  it('has the acceleration 0.061 (example 14.3; the same in Martinez and Martinez, example 7.8)', () => {
    expect(found?.acceleration).toBeCloseTo(0.061, 3);
  });
  it('has a bias correction near 0.16 (Martinez and Martinez, Computational Statistics Handbook, example 7.8)', () => {
    expect(Math.abs((found?.bias ?? 0) - 0.16)).toBeLessThan(0.03);
  });
  // The printed intervals come from 2000 draws of their own: their ends vary by some 3 at the low and 5 at the high end.
  it('has the BCa interval (115.8, 259.6)', () => {
    expect(Math.abs((found?.low ?? 0) - 115.8)).toBeLessThan(3);
    expect(Math.abs((found?.high ?? 0) - 259.6)).toBeLessThan(5);
  });
  it('has the percentile interval (100.8, 233.9)', () => {
    expect(Math.abs((found?.percentileLow ?? 0) - 100.8)).toBeLessThan(4);
    expect(Math.abs((found?.percentileHigh ?? 0) - 233.9)).toBeLessThan(5);
  });
  it('hardly hangs on the seed', () => {
    for (const seed of [2, 3, 4]) expect(Math.abs((interval(seed, 20_000)?.low ?? 0) - 115.8)).toBeLessThan(3);
  });
});

describe('scipy.stats.bootstrap', () => {
  // Computed with SciPy 1.17.1, 100 000 resamples, three seeds: low ends 115.67-115.93, high ends 261.17-261.73;
  // percentile 97.7-98.2 and 235.3-235.9.
  it('agrees with figures that SciPy gave', () => {
    const found = interval(5, 100_000);
    expect(Math.abs((found?.low ?? 0) - 115.8)).toBeLessThan(0.8);
    expect(Math.abs((found?.high ?? 0) - 261.4)).toBeLessThan(1);
    expect(Math.abs((found?.percentileLow ?? 0) - 98)).toBeLessThan(0.8);
    expect(Math.abs((found?.percentileHigh ?? 0) - 235.6)).toBeLessThan(0.8);
  });

  const python = process.env.WARMBRICK_PYTHON ?? 'python3';
  const hasScipy = (() => {
    try {
      execFileSync(python, ['-c', 'import scipy.stats'], { stdio: 'ignore' });
      return true;
    } catch {
      return false;
    }
  })();
  if (!hasScipy) console.warn(`skipped: ${python} has no SciPy; name one that has in WARMBRICK_PYTHON`);
  it.skipIf(!hasScipy)('agrees with SciPy where it is installed', () => {
    const code = `
import json, numpy as np
from scipy.stats import bootstrap
x = np.array(${JSON.stringify(scores)})
f = lambda a, axis=-1: np.var(a, axis=axis)
r = [bootstrap((x,), f, confidence_level=0.9, n_resamples=50000, method=m, random_state=7).confidence_interval for m in ('BCa', 'percentile')]
print(json.dumps([v for i in r for v in (float(i.low), float(i.high))]))`;
    const [low, high, percentileLow, percentileHigh] = JSON.parse(execFileSync(python, ['-c', code]).toString());
    const found = interval(6, 50_000);
    expect(Math.abs((found?.low ?? 0) - low)).toBeLessThan(1.5);
    expect(Math.abs((found?.high ?? 0) - high)).toBeLessThan(1.5);
    expect(Math.abs((found?.percentileLow ?? 0) - percentileLow)).toBeLessThan(1.5);
    expect(Math.abs((found?.percentileHigh ?? 0) - percentileHigh)).toBeLessThan(1.5);
  });
});
