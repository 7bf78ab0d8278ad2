/** Evolution with an adapted covariance: needs no gradient, minds neither steps nor noise in the cost. */

import type { RandomSource } from '../outcomes/random.js';
import type { Seeker } from './seekers.js';
import { symmetricEigen } from './symmetric-eigen.js';
import type { Point } from './threshold-space.js';

/** Fixed figures of a run. Source: N. Hansen, The CMA Evolution Strategy: A Tutorial (2016), arXiv:1604.00772, table 1. */
interface Rates {
  readonly lambda: number;
  readonly weights: readonly number[];
  readonly muEff: number;
  readonly cSigma: number;
  readonly dSigma: number;
  readonly cC: number;
  readonly c1: number;
  readonly cMu: number;
  /** Expected length of a standard normal vector. */
  readonly chi: number;
}

interface Course {
  readonly rates: Rates;
  mean: number[];
  sigma: number;
  covariance: number[][];
  pathSigma: number[];
  pathC: number[];
  generation: number;
}

/** Step in the unit cube at the start. Source: Hansen (2016), B.1: a quarter to a third of the range. */
const firstSigma = 0.3;
/** A step smaller than this tells nothing apart any more; then it starts again. */
const lastSigma = 0.004;
/** Tries to draw a point inside the cube before it is cut to it. */
const triesInside = 30;

/**
 * Seeks by a (mu/mu_w, lambda) evolution strategy with covariance matrix adaptation, from `start`; when it has settled it
 * starts again with twice the points, from a place drawn at random.
 *
 * Range: costs only matter by their order. Source: Hansen (2016), as above; restarts: Auger and Hansen, CEC 2005.
 */
export function evolutionSeeker(start: Point, random: RandomSource): Seeker {
  const axes = start.length;
  let course = begin(start, ratesOf(axes, usualLambda(axes)));
  let asked: number[][] = [];
  return {
    ask() {
      if (course.sigma < lastSigma) {
        const anywhere = start.map(() => random.next());
        course = begin(anywhere, ratesOf(axes, course.rates.lambda * 2));
      }
      asked = draw(course, random);
      return asked;
    },
    tell(costs) {
      const order = costs.map((_, i) => i).sort((a, b) => (costs[a] as number) - (costs[b] as number));
      adapt(
        course,
        order.map((i) => asked[i] as number[]),
      );
      // All the same: nothing to go by, so it looks further. Source: Hansen (2016), B.3.
      if (costs.every((cost) => cost === costs[0])) course.sigma = Math.min(firstSigma, course.sigma * Math.exp(0.3));
      course.sigma = Math.min(1, course.sigma);
    },
  };
}

const usualLambda = (axes: number) => 4 + Math.floor(3 * Math.log(axes)) + (axes === 1 ? 2 : 0);

function ratesOf(n: number, lambda: number): Rates {
  const mu = Math.floor(lambda / 2);
  const raw = Array.from({ length: mu }, (_, i) => Math.log((lambda + 1) / 2) - Math.log(i + 1));
  const total = raw.reduce((sum, w) => sum + w, 0);
  const weights = raw.map((w) => w / total);
  const muEff = 1 / weights.reduce((sum, w) => sum + w * w, 0);
  const cSigma = (muEff + 2) / (n + muEff + 5);
  const dSigma = 1 + 2 * Math.max(0, Math.sqrt((muEff - 1) / (n + 1)) - 1) + cSigma;
  const cC = (4 + muEff / n) / (n + 4 + (2 * muEff) / n);
  const c1 = 2 / ((n + 1.3) ** 2 + muEff);
  const cMu = Math.min(1 - c1, (2 * (muEff - 2 + 1 / muEff)) / ((n + 2) ** 2 + muEff));
  const chi = Math.sqrt(n) * (1 - 1 / (4 * n) + 1 / (21 * n * n));
  return { lambda, weights, muEff, cSigma, dSigma, cC, c1, cMu, chi };
}

function begin(mean: Point, rates: Rates): Course {
  const zero = mean.map(() => 0);
  const covariance = mean.map((_, i) => mean.map((__, j) => (i === j ? 1 : 0)));
  return { rates, mean: [...mean], sigma: firstSigma, covariance, pathSigma: zero, pathC: zero, generation: 0 };
}

function draw({ rates, mean, sigma, covariance }: Course, random: RandomSource): number[][] {
  const { values, vectors } = symmetricEigen(covariance);
  const lengths = values.map((value) => Math.sqrt(Math.max(0, value)));
  const one = () => {
    const z = lengths.map((length) => length * normal(random));
    return mean.map(
      (m, i) => m + sigma * z.reduce((sum, x, k) => sum + ((vectors[i] as number[])[k] as number) * x, 0),
    );
  };
  return Array.from({ length: rates.lambda }, () => {
    let point = one();
    for (let tries = 0; tries < triesInside && !point.every((x) => x >= 0 && x <= 1); tries++) point = one();
    return point.map((x) => Math.min(1, Math.max(0, x)));
  });
}

/** Moves mean, paths, covariance and step. Shapes: `best` are the points asked, the cheapest first. */
function adapt(course: Course, best: readonly (readonly number[])[]): void {
  const { rates, sigma, covariance } = course;
  const { weights, muEff, cSigma, dSigma, cC, c1, cMu, chi } = rates;
  const before = course.mean;
  course.mean = before.map((_, i) => weights.reduce((sum, w, k) => sum + w * ((best[k] as number[])[i] as number), 0));
  const step = course.mean.map((m, i) => (m - (before[i] as number)) / sigma);
  const whitened = whiten(covariance, step);
  const gainSigma = Math.sqrt(cSigma * (2 - cSigma) * muEff);
  course.pathSigma = course.pathSigma.map((p, i) => (1 - cSigma) * p + gainSigma * (whitened[i] as number));
  const length = Math.hypot(...course.pathSigma);
  course.generation++;
  const settled = Math.sqrt(1 - (1 - cSigma) ** (2 * course.generation));
  const isSteady = length / settled < (1.4 + 2 / (step.length + 1)) * chi;
  const gainC = isSteady ? Math.sqrt(cC * (2 - cC) * muEff) : 0;
  course.pathC = course.pathC.map((p, i) => (1 - cC) * p + gainC * (step[i] as number));
  const lost = isSteady ? 0 : c1 * cC * (2 - cC);
  const steps = weights.map((_, k) => (best[k] as number[]).map((x, i) => (x - (before[i] as number)) / sigma));
  course.covariance = covariance.map((row, i) =>
    row.map((c, j) => {
      const rankMu = weights.reduce((sum, w, k) => sum + w * (steps[k]?.[i] as number) * (steps[k]?.[j] as number), 0);
      const rankOne = (course.pathC[i] as number) * (course.pathC[j] as number);
      return (1 - c1 - cMu + lost) * c + c1 * rankOne + cMu * rankMu;
    }),
  );
  course.sigma = sigma * Math.exp((cSigma / dSigma) * (length / chi - 1));
}

/** C^(-1/2) times a vector. */
function whiten(covariance: readonly (readonly number[])[], vector: readonly number[]): number[] {
  const { values, vectors } = symmetricEigen(covariance);
  const along = values.map((value, k) => {
    const projected = vector.reduce((sum, x, i) => sum + x * ((vectors[i] as number[])[k] as number), 0);
    return projected / Math.sqrt(Math.max(1e-20, value));
  });
  return vector.map((_, i) => along.reduce((sum, x, k) => sum + x * ((vectors[i] as number[])[k] as number), 0));
}

/** Standard normal. Source: G. E. P. Box and M. E. Muller, 1958. */
function normal(random: RandomSource): number {
  return Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
}
