/** Fitting what each part of the score is worth, by what came after. */

import { type ScorePart, scoreParts } from '@warmbrick/analysis';
import type { ScoredMoment } from './scored-moment.js';

export interface FittedWeights {
  /** Factor on each part's pressure; never below 0, so that more of anything never lowers the score. */
  readonly factors: Readonly<Record<ScorePart, number>>;
  /** Pressure that is always there: what comes without any warning. */
  readonly always: number;
  /** Mean log-likelihood of a moment with all factors 1 and the best constant, and with those fitted. */
  readonly before: number;
  readonly after: number;
}

const rounds = 3000;
const leastChance = 1e-9;

/**
 * The factors under which the chance 1 - exp(-(always + sum of factor x pressure)) makes what came most likely.
 *
 * The model is the score's own form with the same monotone parts. Its likelihood is concave, and the multiplying steps keep
 * every factor at or above 0, so they end at the best there is. Parts that never had any pressure keep the factor 1.
 * Source: maximum likelihood; steps: expectation and maximisation (Dempster, Laird and Rubin, 1977) of independent causes.
 * Missing: null without both kinds of moment.
 */
export function fitWeights(moments: readonly ScoredMoment[]): FittedWeights | null {
  const came = moments.filter(({ hasCome }) => hasCome).length;
  if (came === 0 || came === moments.length) return null;
  const rows = moments.map(({ pressures, hasCome }) => ({
    x: [1, ...scoreParts.map((name) => pressures[name])],
    hasCome,
  }));
  const isUsed = scoreParts.map((_, k) => rows.some(({ x }) => (x[k + 1] as number) > 0));
  const onlyConstant = steps(rows, [came / moments.length, ...scoreParts.map(() => 1)], (k) => k === 0);
  const fitted = steps(rows, onlyConstant, (k) => k === 0 || (isUsed[k - 1] as boolean));
  const factors = scoreParts.map((name, k) => [name, fitted[k + 1]]);
  return {
    factors: Object.fromEntries(factors) as Record<ScorePart, number>,
    always: fitted[0] as number,
    before: likelihood(rows, onlyConstant),
    after: likelihood(rows, fitted),
  };
}

interface Row {
  readonly x: readonly number[];
  readonly hasCome: boolean;
}

/** Each step shares what came among its causes by their size, and takes for each what came over what there was of it. */
function steps(rows: readonly Row[], start: readonly number[], mayMove: (k: number) => boolean): number[] {
  const totals = start.map((_, k) => rows.reduce((sum, { x }) => sum + (x[k] as number), 0));
  let beta = [...start];
  for (let round = 0; round < rounds; round++) {
    const shares = beta.map(() => 0);
    for (const { x, hasCome } of rows) {
      if (!hasCome) continue;
      const sum = dot(beta, x);
      // Expected number of causes that struck, given that at least one did.
      const each = 1 / Math.max(leastChance, 1 - Math.exp(-sum));
      for (let k = 0; k < beta.length; k++)
        shares[k] = (shares[k] as number) + (beta[k] as number) * (x[k] as number) * each;
    }
    const next = beta.map((b, k) =>
      mayMove(k) && (totals[k] as number) > 0 ? (shares[k] as number) / (totals[k] as number) : b,
    );
    const moved = Math.max(...next.map((b, k) => Math.abs(b - (beta[k] as number))));
    beta = next;
    if (moved < 1e-9) break;
  }
  return beta;
}

function likelihood(rows: readonly Row[], beta: readonly number[]): number {
  const sum = rows.reduce((total, { x, hasCome }) => {
    const pressure = dot(beta, x);
    return total + (hasCome ? Math.log(Math.max(leastChance, 1 - Math.exp(-pressure))) : -pressure);
  }, 0);
  return sum / rows.length;
}

function dot(a: readonly number[], b: readonly number[]): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += (a[k] as number) * (b[k] as number);
  return sum;
}

/** The score that a moment has under fitted factors, 0-100. The constant is left out: it is no evidence about the machine. */
export function refittedScore({ pressures }: Pick<ScoredMoment, 'pressures'>, { factors }: FittedWeights): number {
  const sum = scoreParts.reduce((total, name) => total + factors[name] * pressures[name], 0);
  return 100 * (1 - Math.exp(-sum));
}
