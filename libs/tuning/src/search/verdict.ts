/** Whether the set that a search found is really better, told by machines that it was not fitted to. */

import type { MachineOutcome } from '../outcomes/judge.js';
import { type CostWeights, costOf, outcomeFigures, type Weighing } from '../outcomes/outcome-figures.js';
import type { RandomSource } from '../outcomes/random.js';
import type { Evaluation } from './run-search.js';
import type { ThresholdSpace } from './threshold-space.js';

/**
 * `better`: it is; `no-better`: the set searched from does as well; `no-signal`: findings are no nearer to the truth than
 * chance; `unproven`: it costs less, on too few machines for that to prove anything.
 */
export type Verdict = 'better' | 'no-better' | 'no-signal' | 'unproven';

export interface VerdictInput {
  readonly best: readonly MachineOutcome[];
  readonly base: readonly MachineOutcome[];
  /** Outcomes of the best set with the labels elsewhere: a row a shift, each with the held-out machines in their order. */
  readonly byChance: readonly (readonly MachineOutcome[])[];
  readonly weighing: Weighing;
  readonly random: RandomSource;
}

export interface VerdictFigures {
  readonly verdict: Verdict;
  /** Chance of a gain as large as this if the sets were equally good; and of a cost as low as this by labels at random. */
  readonly chanceOfGain: number;
  readonly chanceOfCost: number;
}

/** Source: common practice, one in twenty. */
const significanceRatio = 0.05;
const permutationRounds = 9999;
/** With fewer machines all changes of sign are gone through. */
const exactUnits = 13;

/**
 * Judges by two permutation tests on held-out machines: changing at random which of the two sets each machine's cost belongs
 * to, and shifting the labels in time.
 *
 * Source: R. A. Fisher, The Design of Experiments (1935), 21; the count plus one, so that a chance is never 0: Phipson and
 * Smyth (2010).
 */
export function judgeGain(input: VerdictInput): VerdictFigures {
  const { best, base, byChance, weighing, random } = input;
  const gains = base.map(
    (one, i) => costOf(one, weighing.weights) - costOf(best[i] as MachineOutcome, weighing.weights),
  );
  const chanceOfGain = signFlipChance(gains, random);
  const cost = outcomeFigures(best, weighing).costPerMachineMonth;
  const asLow = byChance.filter((row) => outcomeFigures(row, weighing).costPerMachineMonth <= cost).length;
  const chanceOfCost = (asLow + 1) / (byChance.length + 1);
  const isUnprovable = 2 ** -gains.length > significanceRatio && gains.reduce((sum, gain) => sum + gain, 0) > 0;
  const ofGain = chanceOfGain <= significanceRatio ? 'better' : isUnprovable ? 'unproven' : 'no-better';
  return { verdict: chanceOfCost > significanceRatio ? 'no-signal' : ofGain, chanceOfGain, chanceOfCost };
}

/** Chance of a sum as large as that of the differences when each might as well have the other sign. */
export function signFlipChance(differences: readonly number[], random: RandomSource): number {
  const total = differences.reduce((sum, d) => sum + d, 0);
  const slack = 1e-9 * differences.reduce((sum, d) => sum + Math.abs(d), 0);
  if (slack === 0) return 1;
  const isAsLarge = (signOf: (i: number) => boolean) =>
    differences.reduce((sum, d, i) => sum + (signOf(i) ? d : -d), 0) >= total - slack;
  if (differences.length <= exactUnits) {
    const all = 2 ** differences.length;
    let count = 0;
    for (let mask = 0; mask < all; mask++) if (isAsLarge((i) => ((mask >> i) & 1) === 0)) count++;
    return count / all;
  }
  let count = 0;
  for (let round = 0; round < permutationRounds; round++) if (isAsLarge(() => random.next() < 0.5)) count++;
  return (count + 1) / (permutationRounds + 1);
}

/** What a user should mind before trusting a result. */
export interface SearchWarning {
  readonly code: 'on-bound' | 'few-labels' | 'few-machines' | 'held-out-worse' | 'nothing-found';
  readonly text: string;
}

/** Labels and machines from which on there is something to go by. Source: engineering judgement. */
const enoughLabels = 10;
const enoughMachines = 5;
/** An optimum within this share of the bounds lies on one. */
const boundRatio = 0.01;

/** Warnings about a search. */
export function searchWarnings(input: {
  readonly space: ThresholdSpace;
  readonly best: Evaluation;
  readonly heldOutBest: readonly MachineOutcome[];
  readonly heldOutBase: readonly MachineOutcome[];
  readonly weights: CostWeights;
}): SearchWarning[] {
  const { space, best, heldOutBest, heldOutBase, weights } = input;
  const warnings: SearchWarning[] = [];
  space.axes.forEach(({ name, min, max }, k) => {
    const x = best.point[k] as number;
    if (x > boundRatio && x < 1 - boundRatio) return;
    const bound = x <= boundRatio ? `lower bound ${min}` : `upper bound ${max}`;
    warnings.push({ code: 'on-bound', text: `${name} lies on its ${bound}: the best may lie beyond it.` });
  });
  for (const [part, outcomes] of [
    ['fitted to', best.outcomes],
    ['held-out', heldOutBest],
  ] as const) {
    const labels = outcomes.reduce((sum, one) => sum + one.labels, 0);
    if (labels < enoughLabels)
      warnings.push({ code: 'few-labels', text: `only ${labels} labels in the ${part} part.` });
    if (outcomes.length < enoughMachines) {
      warnings.push({ code: 'few-machines', text: `only ${outcomes.length} machines in the ${part} part.` });
    }
  }
  const sum = (outcomes: readonly MachineOutcome[]) => outcomes.reduce((total, one) => total + costOf(one, weights), 0);
  if (sum(heldOutBest) > sum(heldOutBase)) {
    warnings.push({ code: 'held-out-worse', text: 'on held-out machines it costs more than the set searched from.' });
  }
  if (heldOutBest.every((one) => one.raised === 0)) {
    warnings.push({ code: 'nothing-found', text: 'the cheapest set finds nothing at all: look at the weights.' });
  }
  return warnings;
}
